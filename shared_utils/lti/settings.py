"""What a class's folder keeps about learning platforms: ``lti.json``, and the tool's key.

``lti.json`` holds addresses and ids, nothing secret. The private key is ``lti.key``, for its owner
alone (mode 0600); with it somebody could write marks in the course's name.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from shared_utils.clinic.plain_text import shown

if TYPE_CHECKING:
    from os import PathLike

FILE, KEY = "lti.json", "lti.key"
MATCHES = ("listed", "email", "sub")
LOOPBACK = ("127.0.0.1", "localhost", "::1")
KEY_BITS = 2048


@dataclass(frozen=True)
class Platform:
    """One registration of the course with a learning platform, in the standard's terms."""

    issuer: str
    client_id: str
    deployment_ids: tuple[str, ...]
    auth_login_url: str
    auth_token_url: str
    jwks_url: str


@dataclass(frozen=True)
class Settings:
    """What ``lti.json`` says.

    Attributes
    ----------
    tool_url : str
        Where browsers and platforms reach the tool.
    course_url : str
        Folder of the course on a hub, to which a launch leads; empty if there is none.
    match : str
        How a learner is recognised: ``listed`` by ``lti learner`` alone, ``email`` also by the
        address in the roster, ``sub`` also where the platform's id is the roster's.
    platforms : tuple of Platform
    """

    tool_url: str
    course_url: str = ""
    match: str = "listed"
    platforms: tuple[Platform, ...] = ()


def address(url: str, what: str) -> str:
    """Return a web address without its last slash, if it is safe to use.

    Parameters
    ----------
    url : str
        With https; http only on this machine.
    what : str
        What it is, for the sentence.

    Raises
    ------
    ValueError
        If it is no such address.

    Examples
    --------
    >>> address("https://platform.example/jwks/", "jwks_url")
    'https://platform.example/jwks'
    """
    try:
        parts = urlsplit(url)
        host, _ = parts.hostname, parts.port
    except (ValueError, AttributeError, TypeError):
        parts, host = urlsplit(""), None
    safe = host and (parts.scheme == "https" or is_loopback(url))
    if not safe or parts.username or parts.fragment or shown(url) != url or " " in url:
        raise ValueError(
            f"{what} is {shown(str(url), 80)!r}, but must be an address that begins with https:// "
            "(http:// only on this machine) and holds no user name and no #."
        )
    return url.rstrip("/")


def is_loopback(url: str) -> bool:
    """Return whether an address is one of this machine, without encryption.

    Examples
    --------
    >>> is_loopback("http://127.0.0.1:8900/launch"), is_loopback("http://127.0.0.1.example/")
    (True, False)
    """
    parts = urlsplit(url)
    return parts.scheme == "http" and parts.hostname in LOOPBACK


def read(folder: str | PathLike[str]) -> Settings:
    """Return what a class's ``lti.json`` says.

    Raises
    ------
    ValueError
        If there is none, or it does not hold.
    """
    path = Path(folder) / FILE
    try:
        given = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise ValueError(
            f"This class has no {FILE}: run `lens-course class lti setup --tool-url ADDRESS` first."
        ) from None
    except (OSError, ValueError):
        raise ValueError(
            f"{path} cannot be read: repair its JSON or put it back from a copy."
        ) from None
    try:
        platforms = tuple(_platform(each) for each in given.pop("platforms", []))
        return _checked(Settings(**given, platforms=platforms))
    except (TypeError, AttributeError, KeyError):
        names = ", ".join(field.name for field in fields(Settings))
        of_platform = ", ".join(field.name for field in fields(Platform))
        raise ValueError(
            f"{path} must hold {names}, and each platform {of_platform}; nothing else."
        ) from None


def _platform(given):
    ids = given["deployment_ids"]
    if not isinstance(ids, list):
        raise TypeError
    return Platform(**{**given, "deployment_ids": tuple(ids)})


def _checked(settings):
    address(settings.tool_url, "tool_url")
    if settings.course_url:
        address(settings.course_url, "course_url")
    if settings.match not in MATCHES:
        raise ValueError(f"match is {settings.match!r}, but must be one of: {', '.join(MATCHES)}.")
    for each in settings.platforms:
        for name in ("auth_login_url", "auth_token_url", "jwks_url"):
            address(getattr(each, name), name)
        ids = (each.issuer, each.client_id, *each.deployment_ids)
        if not each.deployment_ids or not all(isinstance(i, str) and i.strip() for i in ids):
            raise ValueError("A platform needs issuer, client_id and a deployment_id as its texts.")
    return settings


def keep(folder: str | PathLike[str], settings: Settings) -> Path:
    """Write ``lti.json`` in one step, and the key if there is none; return the file."""
    _checked(settings)
    private_key(folder, make=True)
    path = Path(folder) / FILE
    new = path.with_suffix(".new")
    new.write_text(json.dumps(asdict(settings), indent=2) + "\n", encoding="utf-8")
    new.replace(path)
    return path


def with_platform(settings: Settings, platform: Platform) -> tuple[Platform, ...]:
    """Return the platforms with one more; one of the same issuer and client is replaced."""
    same = (platform.issuer, platform.client_id)
    others = [each for each in settings.platforms if (each.issuer, each.client_id) != same]
    return (*others, platform)


def private_key(folder: str | PathLike[str], make: bool = False) -> str:
    """Return the tool's private key as PEM.

    Parameters
    ----------
    folder : path-like
        The class's folder.
    make : bool
        Whether one is made where there is none.

    Raises
    ------
    ValueError
        If there is none, it cannot be read, or others may read it.
    """
    from cryptography.hazmat.primitives.asymmetric import rsa
    from cryptography.hazmat.primitives.serialization import (
        Encoding,
        NoEncryption,
        PrivateFormat,
        load_pem_private_key,
    )

    path = Path(folder) / KEY
    if make and not path.exists():
        made = rsa.generate_private_key(public_exponent=65537, key_size=KEY_BITS)
        pem = made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        # never there with another mode, nor half written
        new = path.with_suffix(f".{os.getpid()}")
        with open(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(pem)
        new.replace(path)
    try:
        if os.name == "posix" and path.stat().st_mode & 0o077:
            raise ValueError(f"Others may read {path}: run chmod 600 on it, or replace the key.")
        pem = path.read_bytes()
    except OSError as error:
        raise ValueError(f"The key {path} cannot be read: {error.strerror}.") from None
    try:
        load_pem_private_key(pem, None)
    except (ValueError, TypeError):
        raise ValueError(
            f"{path} holds no key: put it back from a copy, or move it away and set up anew."
        ) from None
    return pem.decode("ascii")


def public_key(pem: str) -> str:
    """Return the public key of a private one, both as PEM."""
    from cryptography.hazmat.primitives.serialization import (
        Encoding,
        PublicFormat,
        load_pem_private_key,
    )

    public = load_pem_private_key(pem.encode("ascii"), None).public_key()
    return public.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo).decode("ascii")
