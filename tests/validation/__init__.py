"""Checks against standards, handbook tables, worked examples, open data and reference libraries."""
