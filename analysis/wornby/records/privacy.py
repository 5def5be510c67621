"""Registrations leave the records only as keyed pseudonyms."""

import hashlib
import hmac

import polars as pl

PSEUDONYM_LENGTH = 12


def pseudonyms(registrations: pl.Series, *, key: str) -> pl.DataFrame:
    """A pseudonym for each distinct registration: columns vehicle, pseudonym.

    HMAC with SHA-256 (RFC 2104, FIPS 180-4), cut to 48 bits: the same registration and key
    always give the same pseudonym, and without the key it cannot be turned back or guessed at.

    >>> pseudonyms(pl.Series(["QQ1 AAA"]), key="demo").height
    1
    """
    distinct = registrations.drop_nulls().unique().sort()
    made = [_pseudonym(name, key) for name in distinct]
    return pl.DataFrame(
        {"vehicle": distinct, "pseudonym": made},
        schema={"vehicle": pl.String, "pseudonym": pl.String},
    )


def _pseudonym(registration: str, key: str) -> str:
    digest = hmac.new(key.encode(), registration.encode(), hashlib.sha256)
    return digest.hexdigest()[:PSEUDONYM_LENGTH]
