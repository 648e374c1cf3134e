"""Spreadsheets in and out: a grid of cells to facts of a workspace, and tables of a workspace to a grid.

Reading and writing of the file formats are in `read_*` and `write_*` and load their libraries late; all else is pure.
"""
