"""Writers of reports: take Results, give bytes."""
