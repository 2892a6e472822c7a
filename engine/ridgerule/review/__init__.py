"""Findings read for a purpose: a warranty's conditions, a second visit, a report checked again."""
