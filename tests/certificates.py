"""A certificate for this machine, signed by itself, made anew whenever a test asks: nothing of it is stored.

Its primes are published ones (Mersenne's, 2^2203 - 1 and 2^1279 - 1), so its key protects nothing and takes no time.
The form is that of RFC 5280, 4.1, and of RFC 8017, A.1.2 and 9.2, in DER (ITU-T X.690).
"""

import hashlib
import ssl
from base64 import encodebytes
from pathlib import Path

_P, _Q, _E = 2**2203 - 1, 2**1279 - 1, 65537
_N, _D = _P * _Q, pow(_E, -1, (_P - 1) * (_Q - 1))
# What each kind of thing is marked with.
_INTEGER, _BITS, _BYTES, _NULL, _OID, _SEQUENCE, _SET, _TEXT, _TIME = 2, 3, 4, 5, 6, 48, 49, 12, 24
_RSA, _SIGNED = (bytes.fromhex("2a864886f70d0101" + end) for end in ("01", "0b"))
_SHA256, _NAME, _NAMES, _CA = (bytes.fromhex(one) for one in ("608648016503040201", "550403", "551d11", "551d13"))


def trusted_server(folder: Path) -> tuple[ssl.SSLContext, Path]:
    """Return how a server of 127.0.0.1 encrypts, and the file with its certificate for those who trust it."""
    pem = folder / "own.pem"
    pem.write_text(_pem("CERTIFICATE", _certificate()))
    both = folder / "with_key.pem"
    both.write_text(pem.read_text() + _pem("RSA PRIVATE KEY", _key()))
    serves = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serves.load_cert_chain(both)
    return serves, pem


def _certificate() -> bytes:
    signed = _of(_SEQUENCE, _of(_OID, _SIGNED), _of(_NULL))
    name = _of(_SEQUENCE, _of(_SET, _of(_SEQUENCE, _of(_OID, _NAME), _of(_TEXT, b"A server of the tests"))))
    says = _of(_SEQUENCE, _of(_TIME, b"20200101000000Z"), _of(_TIME, b"21200101000000Z"))
    algorithm = _of(_SEQUENCE, _of(_OID, _RSA), _of(_NULL))
    public = _of(_SEQUENCE, algorithm, _of(_BITS, b"\0", _of(_SEQUENCE, _whole(_N), _whole(_E))))
    here = _of(_SEQUENCE, _of(0x87, bytes([127, 0, 0, 1])))
    extensions = _of(
        _SEQUENCE,
        _of(_SEQUENCE, _of(_OID, _NAMES), _of(_BYTES, here)),
        _of(_SEQUENCE, _of(_OID, _CA), _of(1, b"\xff"), _of(_BYTES, _of(_SEQUENCE, _of(1, b"\xff")))),
    )
    about = _of(_SEQUENCE, _of(0xA0, _whole(2)), _whole(1), signed, name, says, name, public, _of(0xA3, extensions))
    return _of(_SEQUENCE, about, signed, _of(_BITS, b"\0", _signature(about)))


def _signature(about: bytes) -> bytes:
    hashed = _of(_SEQUENCE, _of(_SEQUENCE, _of(_OID, _SHA256), _of(_NULL)), _of(_BYTES, hashlib.sha256(about).digest()))
    size = (_N.bit_length() + 7) // 8
    padded = b"\0\1" + b"\xff" * (size - len(hashed) - 3) + b"\0" + hashed
    return pow(int.from_bytes(padded), _D, _N).to_bytes(size)


def _key() -> bytes:
    numbers = (0, _N, _E, _D, _P, _Q, _D % (_P - 1), _D % (_Q - 1), pow(_Q, -1, _P))
    return _of(_SEQUENCE, *(_whole(one) for one in numbers))


def _whole(number: int) -> bytes:
    return _of(_INTEGER, number.to_bytes(number.bit_length() // 8 + 1))


def _of(kind: int, *parts: bytes) -> bytes:
    inside = b"".join(parts)
    size = len(inside).to_bytes((len(inside).bit_length() + 7) // 8 or 1)
    return bytes([kind]) + (size if len(inside) < 128 else bytes([0x80 + len(size)]) + size) + inside


def _pem(what: str, content: bytes) -> str:
    return f"-----BEGIN {what}-----\n{encodebytes(content).decode()}-----END {what}-----\n"
