"""How an entry lies on the disk: a header that names its key and its length, a checksum, the data.

Whatever is not exactly that (cut short, altered, of another key, of another program) is no entry.
"""

MAGIC = b"dfmcheck cache 1\n"
"""First bytes of every entry; another number for another layout."""

_KEY = 32
_LENGTH = 8
_SUM = 32
HEADER = len(MAGIC) + _KEY + _LENGTH + _SUM


def packed(key: str, data: bytes) -> bytes:
    """An entry for a key of 64 hexadecimal digits."""
    head = MAGIC + bytes.fromhex(key) + len(data).to_bytes(_LENGTH, "big")
    return head + _checksum(head, data) + data


def unpacked(key: str, entry: bytes) -> bytes | None:
    """The data of an entry, or None if it is none of this key's or not as it was written."""
    if len(entry) < HEADER or not entry.startswith(MAGIC):
        return None
    head, data = entry[: HEADER - _SUM], entry[HEADER:]
    length = int.from_bytes(head[-_LENGTH:], "big")
    named = head[len(MAGIC) : len(MAGIC) + _KEY]
    if named != bytes.fromhex(key) or length != len(data):
        return None
    return data if entry[HEADER - _SUM : HEADER] == _checksum(head, data) else None


def _checksum(head: bytes, data: bytes) -> bytes:
    # Loaded with the first entry: a run that needs none is spared OpenSSL.
    from hashlib import blake2b

    total = blake2b(head, digest_size=_SUM)
    total.update(data)
    return total.digest()
