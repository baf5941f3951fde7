"""Findings to files: workbooks, JSON, pages about checks. Computes nothing."""

from .write import write_report

__all__ = ["write_report"]
