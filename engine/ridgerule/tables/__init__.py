"""Readings in and out of tables: CSV files and workbooks, and the records they are of."""
