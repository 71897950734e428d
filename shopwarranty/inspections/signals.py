"""What higher rooms may want to follow. Sent inside the transaction of the act."""

from django.dispatch import Signal

findings_changed = Signal()
"""`job_ids`: jobs whose finished visits, or their findings, are no longer what they were."""
