"""Adapter to the practice record: cases, what happened to them, and their files, kept for good."""

from typing import TYPE_CHECKING

from seatwright.late import open_late

if TYPE_CHECKING:
    from seatwright.record._accounts import Accounts
    from seatwright.record._backup import BackedUp, back_up
    from seatwright.record._blobs import Arriving
    from seatwright.record._drafts import Drafts
    from seatwright.record._passwords import Passwords
    from seatwright.record._place import is_record_folder
    from seatwright.record._record import Record, create_record, free_bytes, open_record, upgrade_record
    from seatwright.record._restore import Restored, restore, verify_backups
    from seatwright.record._rotation import choose_kept, read_keep
    from seatwright.record._shelf import Shelf
    from seatwright.record._snapshots import BackupFolder, Snapshot
    from seatwright.record._verify import Damage, Verified, verify_record
else:
    __getattr__ = open_late(__name__, __file__)

__all__ = [
    "Accounts",
    "Arriving",
    "BackedUp",
    "BackupFolder",
    "Damage",
    "Drafts",
    "Passwords",
    "Record",
    "Restored",
    "Shelf",
    "Snapshot",
    "Verified",
    "back_up",
    "choose_kept",
    "create_record",
    "free_bytes",
    "is_record_folder",
    "open_record",
    "read_keep",
    "restore",
    "upgrade_record",
    "verify_backups",
    "verify_record",
]
