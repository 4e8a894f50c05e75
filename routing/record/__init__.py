"""Room of the record: a study as ``study.json``, from which every paper is made.

``document`` puts it together, ``files`` read and write it; ``line``, ``pressures``, ``sizes`` and
``yields`` make its larger sections.
"""

from routing.document import SCHEMA, read_document, to_json, write_document
from routing.record.document import study_document

__all__ = ["SCHEMA", "read_document", "study_document", "to_json", "write_document"]
