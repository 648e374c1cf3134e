"""The manual: its chapters as text for a terminal, as one page of HTML, and as manual pages for ``man``."""
