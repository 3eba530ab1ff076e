"""What a worker process is given to do."""

import os

from feedproof_sdk import Assessment, Client, ReadingSet


def assess_here(client: Client, reading_set: ReadingSet) -> tuple[int, Assessment]:
    """Assess, and say in which process."""
    return os.getpid(), client.assess(reading_set)
