"""The seal of a document: Ed25519 (RFC 8032), so that a change since it was sealed is seen, without any central authority.

What a seal tells is no more than this: who holds the key of that darkroom wrote these very words. Who that is nobody
vouches for; a darkroom that comes with another key than before is asked about.
"""

from __future__ import annotations

import json
from typing import Literal, TypeVar

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from obverse.pool.document import PoolDocument
from obverse.pool.prior import PriorDocument

# What can be sealed: it names the darkroom that made it, and has room for the seal.
Sealable = TypeVar("Sealable", PoolDocument, PriorDocument)

# How a seal stands: there is none; it holds; the document was changed since, or another key made it.
Seal = Literal["none", "whole", "changed"]


def public_key_of(private_key: bytes) -> str:
    """What others check seals of this key by, hexadecimal.

    Parameters
    ----------
    private_key : bytes
        Ed25519, 32 bytes.

    Returns
    -------
    str
        64 hexadecimal figures.
    """
    key = Ed25519PrivateKey.from_private_bytes(private_key).public_key()
    return key.public_bytes(Encoding.Raw, PublicFormat.Raw).hex()


def sealed(document: Sealable, private_key: bytes) -> Sealable:
    """The document with its public key and its seal.

    Parameters
    ----------
    document : PoolDocument or PriorDocument
        A seal that it has already is replaced.
    private_key : bytes
        Ed25519, 32 bytes.

    Returns
    -------
    PoolDocument or PriorDocument
        A copy.
    """
    darkroom = document.darkroom.model_copy(update={"public_key": public_key_of(private_key)})
    unsealed = document.model_copy(update={"darkroom": darkroom, "signature": ""})
    seal = Ed25519PrivateKey.from_private_bytes(private_key).sign(_words(unsealed))
    return unsealed.model_copy(update={"signature": seal.hex()})


def seal_of(document: Sealable) -> Seal:
    """How the seal of a document stands.

    Parameters
    ----------
    document : PoolDocument or PriorDocument

    Returns
    -------
    str
        ``"none"``, ``"whole"``, or ``"changed"``: the document was changed since, or another key sealed it.
    """
    if not document.signature and not document.darkroom.public_key:
        return "none"
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(document.darkroom.public_key))
        key.verify(bytes.fromhex(document.signature), _words(document.model_copy(update={"signature": ""})))
    except (InvalidSignature, ValueError):
        return "changed"
    return "whole"


def _words(document: Sealable) -> bytes:
    """The document as it is sealed: one way of writing for every computer."""
    body = document.model_dump(mode="json")
    return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False).encode()
