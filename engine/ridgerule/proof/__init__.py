"""Rulebooks held against themselves: strictness, edges, cases, and what changed between two."""
