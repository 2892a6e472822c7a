"""Many roofs at once: the same answers as one audit each, decided at the speed of reading them."""
