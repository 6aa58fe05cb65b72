"""Settings of the processes that these tests start: the test's own database, and waits of a second."""

import os

from refuge.settings import *  # noqa: F403
from refuge.settings import DATABASES

DATABASES["default"]["NAME"] = os.environ["TEST_DATABASE_NAME"]
REMINDER_RETRY_AFTER_S = (1, 1, 1)
REMINDER_CLAIM_STALE_S = 2
