"""What reading a report back can end in; apart, so that the command line knows it without loading the reports."""


class UnreadableResultsError(Exception):
    """A file that is no results file this version can read. ``str()`` is one sentence."""
