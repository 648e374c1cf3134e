"""Findings in the formats that code hosts read: data of their design, no blocks."""
