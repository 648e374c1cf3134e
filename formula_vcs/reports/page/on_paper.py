"""A page as PDF, laid out by WeasyPrint, which is an extra and loaded only here."""

from __future__ import annotations

import logging
from hashlib import sha256
from typing import Final

from formula_vcs.errors import UserError

_EXTRA: Final = "install it with: pip install 'formula-vcs[pdf]'"
_LIBRARIES: Final = "on Debian and Ubuntu: apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"


def laid_out(html: str) -> bytes:
    """Lay a page out on paper: the same bytes for the same page, tagged for readers that speak.

    :raises UserError: WeasyPrint, or a system library that it needs, is not there.
    """
    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetcher
    except ImportError:
        raise UserError(f"a PDF is written by WeasyPrint, which is not installed; {_EXTRA}") from None
    except OSError as error:  # cffi finds no Pango
        reason = str(error).splitlines()[0]
        raise UserError(f"WeasyPrint misses a library of the system ({reason}); {_LIBRARIES}") from None
    # it warns of style for browsers that paper has no use for; what is wrong with the page a test finds
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)

    # a file of a pull request must not reach out; a picture that stands in the page is no request
    nothing = URLFetcher(allowed_protocols=("data",), allow_redirects=False)
    name = sha256(html.encode("utf-8", "replace")).digest()[:16]
    data: bytes = HTML(string=html, url_fetcher=nothing).write_pdf(pdf_identifier=name, pdf_tags=True)
    return data
