from refuge.errors import ClearmereError


class FileProblem(ClearmereError):
    """A file that cannot be read or written. The message says why, and what would do."""
