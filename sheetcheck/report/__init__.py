"""Findings to files: workbooks, JSON, pages about checks. Computes nothing."""
