"""Room of the crew: what is brought home from the hill, read, merged and held against the study.

``record`` reads one record and a file of them, ``photo`` the photographs in them; ``merge`` puts
several crews' records together without loss and says where they differ.
"""

from routing.crew.merge import clamped, conflicts, last_words, merged, record_key
from routing.crew.photo import PHOTO_NAME, Photo, photo_of, photos_apart
from routing.crew.record import Record, read_records, records_from, records_of_ticks

__all__ = [
    "PHOTO_NAME",
    "Photo",
    "Record",
    "clamped",
    "conflicts",
    "last_words",
    "merged",
    "photo_of",
    "photos_apart",
    "read_records",
    "record_key",
    "records_from",
    "records_of_ticks",
]
