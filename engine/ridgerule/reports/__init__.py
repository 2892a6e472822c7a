"""Reports: the view of an audit, then one module a format; `formats` lists them."""
