"""The checker that is not ours: a PDF held against PDF/A-3a (ISO 19005-3) and PDF/UA-1 (ISO 14289-1).

It is page-validation, which passes the corpora of veraPDF and Isartor; it is used in tests and nowhere else.
"""

import page

ARCHIVE, READER = page.ValidationProfile.PDF_A_3A, page.ValidationProfile.PDF_UA_1


def faults(written: bytes, profile: "page.ValidationProfile") -> list[str]:
    """Return every rule that a PDF breaks, each with what is said of it."""
    report = page.validate_pdf_bytes(written, profile=profile)
    return [f"{one.rule_id}: {one.message}" for one in report.failures]
