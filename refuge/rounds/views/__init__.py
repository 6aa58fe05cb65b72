"""Pages of the round: round.py the day's walk, tasks.py one task, records.py what was no task, notices.py."""
