"""Adapter to the practice record: cases, what happened to them, and their files, kept for good."""

from seatwright.record._drafts import Drafts
from seatwright.record._place import is_record_folder
from seatwright.record._record import Record, create_record, open_record
from seatwright.record._verify import Damage, Verified, verify_record

__all__ = [
    "Damage",
    "Drafts",
    "Record",
    "Verified",
    "create_record",
    "is_record_folder",
    "open_record",
    "verify_record",
]
