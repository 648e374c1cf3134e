"""Formulas of personal-care products as TOML in git: checked, diffed and reviewed."""

from __future__ import annotations

__version__ = "0.1.0"
