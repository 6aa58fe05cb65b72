class StartRefused(Exception):
    """The site cannot start; the message is one sentence for the person at the keyboard."""
