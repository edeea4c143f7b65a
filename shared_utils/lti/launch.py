"""A login and a launch by LTI 1.3, each thing checked before anything is opened.

A login draws a state and a nonce, kept here for five minutes and in the browser as a cookie. The
launch that follows must bring the same state from the same browser, and a token that the platform
signed (RS256 alone) for this tool, with that nonce. A state counts once, so nothing can be sent
twice. Where a launch leads follows from the class's own settings, never from the request.

Sources
-------
1EdTech LTI 1.3 Core, Security Framework 1.0 section 5.1 (login, token, what is checked), Deep
Linking 2.0; OpenID Connect Core 1.0 section 3.1.3.7; RFC 7519 and RFC 8725: from memory.
"""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from urllib.parse import quote, urlsplit

import jwt
import requests
from pylti1p3.cookie import CookieService
from pylti1p3.deep_link_resource import DeepLinkResource
from pylti1p3.lineitem import LineItem
from pylti1p3.message_launch import MessageLaunch
from pylti1p3.oidc_login import OIDCLogin
from pylti1p3.request import Request
from pylti1p3.session import SessionService
from pylti1p3.tool_config import ToolConfDict

from shared_utils.clinic.plain_text import shown
from shared_utils.course import manifest
from shared_utils.lti import learners, settings

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from shared_utils.classroom.classroom import Classroom

STATE_S = 300  # as long as the library lets its cookie live
MAX_STATES = 10_000  # logins that were begun; the oldest are forgotten first
SKEW_S = 60
TIMEOUT_S = 20
NOTEBOOK = "problems.ipynb"
CLAIM = "https://purl.imsglobal.org/spec/lti/claim/"
AGS_CLAIM = "https://purl.imsglobal.org/spec/lti-ags/claim/endpoint"
DEEP_LINK_SETTINGS = "https://purl.imsglobal.org/spec/lti-dl/claim/deep_linking_settings"
AGAIN = "Go back to your learning platform and start the course there again."


class Refused(ValueError):
    """A login or launch that was refused, with a sentence for whoever sees the page."""


class TimeoutSession(requests.Session):
    """Requests that end in time and are not led elsewhere."""

    def request(self, *arguments: Any, **options: Any) -> requests.Response:
        """Send one; a redirection counts as no reply."""
        options["timeout"], options["allow_redirects"] = TIMEOUT_S, False
        response = super().request(*arguments, **options)
        if response.is_redirect:
            raise requests.ConnectionError("The platform redirects.")
        return response


@dataclass(frozen=True)
class Login:
    """Where the browser goes to log in, and the cookie that it takes along."""

    url: str
    cookies: dict[str, str]


@dataclass(frozen=True)
class Start:
    """A launch that was found good.

    Attributes
    ----------
    learner : str
        Of the roster; empty for who teaches.
    set_name : str
        A released set, or empty for the course.
    url : str
        Where it lies on the hub; empty if no address is set.
    """

    learner: str
    set_name: str
    url: str


@dataclass(frozen=True)
class Choice:
    """A request to choose what a link leads to: the title and signed reply of each."""

    return_url: str
    replies: tuple[tuple[str, str], ...]


@dataclass
class _PendingLogin:
    nonce: str
    issuer: str
    client_id: str
    until: float


class _Request(Request):
    def __init__(self, given):
        self.given = given

    def is_secure(self):
        return True

    def get_param(self, key):
        return self.given.get(key, "")


@dataclass
class _Cookies(CookieService):
    there: Mapping[str, str] = field(default_factory=dict)
    made: dict[str, str] = field(default_factory=dict)

    def get_cookie(self, name):
        return self.there.get(name)

    def set_cookie(self, name, value, exp=3600):
        self.made[name] = str(value)


class _Nonce(SessionService):
    """Holds the one nonce that counts, and trusts no state without its cookie."""

    def __init__(self, nonce=""):
        self.nonce = nonce

    def save_nonce(self, nonce):
        self.nonce = nonce

    def check_nonce(self, nonce):
        return bool(self.nonce) and nonce == self.nonce

    def check_state_is_valid(self, state, id_token_hash):
        return False


class _Login(OIDCLogin):
    def get_redirect(self, url):
        return url


class _Launch(MessageLaunch):
    def _get_request_param(self, key):
        return self._request.get_param(key)


def registrations(kept: settings.Settings, private: str) -> ToolConfDict:
    """Return the platforms as the library takes them, with the tool's keys."""
    by_issuer: dict[str, list[Any]] = {}
    for each in kept.platforms:
        by_issuer.setdefault(each.issuer, []).append(
            {
                "default": each.issuer not in by_issuer,
                "client_id": each.client_id,
                "auth_login_url": each.auth_login_url,
                "auth_token_url": each.auth_token_url,
                "key_set_url": each.jwks_url,
                "deployment_ids": list(each.deployment_ids),
            }
        )
    made = ToolConfDict(by_issuer)  # type: ignore[arg-type]
    for each in kept.platforms:
        made.set_private_key(each.issuer, private, each.client_id)
        made.set_public_key(each.issuer, settings.public_key(private), each.client_id)
    return made


class Tool:
    """The course as a tool of the learning platforms that a class is registered with.

    Parameters
    ----------
    classroom : shared_utils.classroom.classroom.Classroom

    Raises
    ------
    ValueError
        If the class's settings for LTI do not hold.
    """

    def __init__(self, classroom: Classroom) -> None:
        self.classroom = classroom
        self.settings = settings.read(classroom.folder)
        if not self.settings.platforms:
            raise ValueError(
                "No learning platform is registered: run `lens-course class lti platform` with "
                "the addresses and ids that its administrator gives you."
            )
        self.registrations = registrations(self.settings, settings.private_key(classroom.folder))
        self._pending: dict[str, _PendingLogin] = {}
        self._lock = threading.Lock()

    @property
    def launch_url(self) -> str:
        """Where platforms send launches."""
        return self.settings.tool_url.rstrip("/") + "/launch"

    def jwks(self) -> dict[str, Any]:
        """Return the tool's public key as a JSON Web Key Set."""
        return self.registrations.get_jwks()

    def begin(self, given: Mapping[str, str]) -> Login:
        """Answer a platform's login initiation.

        Raises
        ------
        Refused
            If the platform is not known, or the launch is to lead elsewhere.
        """
        issuer, client_id = given.get("iss", ""), given.get("client_id", "")
        same = [each for each in self.settings.platforms if each.issuer == issuer]
        ours = [each for each in same if client_id in ("", each.client_id)]
        if not ours:
            raise Refused(
                "This learning platform is not registered with the course: ask your instructor."
            )
        if len(ours) > 1:
            raise Refused(
                "The learning platform did not say which registration it uses (client_id): ask "
                "your instructor."
            )
        if not given.get("login_hint"):
            raise Refused(f"The learning platform did not say who logs in. {AGAIN}")
        if not self._is_own(given.get("target_link_uri", "")):
            raise Refused(
                "The link leads to another site than the course, so it was not followed: ask your "
                "instructor to set it right in the learning platform."
            )
        cookies, nonce = _Cookies(), _Nonce()
        request = _Request({**given, "client_id": ours[0].client_id})
        login = _Login(request, self.registrations, session_service=nonce, cookie_service=cookies)
        url = str(login.get_redirect_object(self.launch_url))
        now = time.monotonic()
        with self._lock:
            self._pending = {s: one for s, one in self._pending.items() if one.until > now}
            while len(self._pending) >= MAX_STATES:
                del self._pending[next(iter(self._pending))]
            for state in cookies.made:
                self._pending[state] = _PendingLogin(
                    nonce.nonce, issuer, ours[0].client_id, now + STATE_S
                )
        return Login(url, cookies.made)

    def _is_own(self, url):
        own, other = urlsplit(self.settings.tool_url), urlsplit(url)
        path = own.path.rstrip("/") + "/"
        return (own.scheme, own.netloc) == (other.scheme, other.netloc) and (
            (other.path + "/").startswith(path)
        )

    def launch(self, given: Mapping[str, str], cookies: Mapping[str, str]) -> Start | Choice:
        """Check a launch, and return where it leads.

        Raises
        ------
        Refused
            If anything does not hold, with a sentence that says what.
        """
        claims, checked = self._checked(given, cookies)
        if checked.is_deep_link_launch():
            return self._choice(claims, checked)
        return self._start(claims, checked)

    def _checked(self, given, cookies):
        if given.get("error"):
            raise Refused(f"The learning platform did not log you in. {AGAIN}")
        state = given.get("state", "")
        if not state or cookies.get(state) != state:
            raise Refused(
                "This browser did not begin this start of the course, or it refuses cookies of "
                "the course. Allow them, or open the course in a tab of its own. " + AGAIN
            )
        with self._lock:
            begun = self._pending.pop(state, None)
        if begun is None or begun.until < time.monotonic():
            raise Refused(f"This start was used already, or is older than 5 minutes. {AGAIN}")
        launch = _Launch(
            _Request(given),
            self.registrations,
            session_service=_Nonce(begun.nonce),
            cookie_service=_Cookies(cookies),
            requests_session=TimeoutSession(),
        )
        launch.set_auto_validation(False)
        # a missing time is refused; of the two times before which a token does not count, a
        # platform's clock may be a little ahead, so they are checked below
        options = {"verify_aud": False, "verify_iat": False, "verify_nbf": False}
        launch.set_jwt_verify_options({**options, "require": ["exp", "iat", "sub"]})
        _step(launch.validate_jwt_format, f"What the platform sent is no signed token. {AGAIN}")
        _step(launch.validate_nonce, f"The token does not belong to this start. {AGAIN}")
        claims = launch.get_launch_data()
        if claims.get("iss") != begun.issuer:
            raise Refused(f"The token is from another platform than the login. {AGAIN}")
        audience = claims.get("aud")
        several = isinstance(audience, list) and len(audience) > 1
        meant = audience if isinstance(audience, list) else [audience]
        party = claims.get("azp", None if several else begun.client_id)
        if begun.client_id not in meant or party != begun.client_id or meant[0] != begun.client_id:
            raise Refused(f"The token is meant for another tool. {AGAIN}")
        _step(launch.validate_registration, f"The token is meant for another tool. {AGAIN}")
        _check_signature(launch)
        _check_times(claims)
        _step(
            launch.validate_deployment,
            "The course is not registered for this part of the learning platform (deployment_id): "
            "ask your instructor.",
        )
        _step(
            launch.validate_message,
            "The learning platform asks for something that the course does not offer, or left out "
            "what the standard wants: ask your instructor.",
        )
        if not (launch.is_resource_launch() or launch.is_deep_link_launch()):
            raise Refused("The course can be started, and chosen, but not asked for anything else.")
        target = claims.get(CLAIM + "target_link_uri", self.launch_url)
        if not (isinstance(target, str) and self._is_own(target)):
            raise Refused("The link leads to another site than the course: ask your instructor.")
        if not (isinstance(claims["sub"], str) and 0 < len(claims["sub"]) <= 255):
            raise Refused("The learning platform did not say who you are: ask your instructor.")
        return claims, launch

    def _start(self, claims, launch):
        name = self._wanted(claims)
        self._note_service(claims)
        teaches = launch.check_teacher_access() or launch.check_staff_access()
        layout = self.classroom.layout
        learner = learners.find(layout, self.settings.match, claims)
        if not (learner or teaches):
            learners.note_unknown(layout, claims)
            who = shown(str(claims.get("name") or claims["sub"]), learners.WIDEST)
            raise Refused(
                f"The course does not know yet which learner of its roster {who} is. Your "
                "instructor now finds you in a list: ask them to enter you, then start again."
            )
        return Start(learner, name, self.course_address(name))

    def _wanted(self, claims):
        custom = claims.get(CLAIM + "custom") or {}
        wanted = custom.get("set", "") if isinstance(custom, dict) else ""
        if not wanted:
            return ""
        try:
            return self.classroom.find_released(str(wanted))
        except ValueError:
            raise Refused(
                f"The link names the problem set {shown(str(wanted), learners.WIDEST)!r}, which "
                "this class does not have: ask your instructor."
            ) from None

    def course_address(self, name: str) -> str:
        """Return where a set lies on the hub, or the course if the name is empty."""
        base = self.settings.course_url.rstrip("/")
        if not (base and name):
            return base
        return f"{base}/exercises/{quote(name)}/{NOTEBOOK}"

    def _note_service(self, claims):
        """Keep where the marks of this course go; the platform signed it."""
        service = claims.get(AGS_CLAIM)
        context = claims.get(CLAIM + "context")
        if not (isinstance(service, dict) and isinstance(context, dict)):
            return
        where, scopes = service.get("lineitems"), service.get("scope")
        if not (isinstance(where, str) and isinstance(scopes, list)):
            return
        try:
            settings.address(where, "lineitems")
        except ValueError:
            return  # marks are never sent to an address that is not safe
        from shared_utils.grading.supervisor.records import Records, utc_text

        audience = claims["aud"]
        client_id = audience[0] if isinstance(audience, list) else audience
        row = claims["iss"], client_id, str(context.get("id", "")), where
        with Records(self.classroom.folder).opened() as database:
            database.execute(
                "INSERT OR REPLACE INTO lti_service VALUES (?, ?, ?, ?, ?, ?)",
                (*row, " ".join(map(str, scopes)), utc_text()),
            )

    def _choice(self, claims, launch):
        return_url = claims[DEEP_LINK_SETTINGS].get("deep_link_return_url")
        try:
            settings.address(return_url, "deep_link_return_url")
        except ValueError:
            raise Refused(
                "The learning platform gave no safe address for the choice: ask its administrator."
            ) from None
        deep = launch.get_deep_link()
        offers = [("The course", "")]
        titles = manifest.of()
        for name in self.classroom.released_sets():
            offers.append((titles.title_of_set(name), name))
        replies = []
        for title, name in offers:
            link = DeepLinkResource().set_url(self.launch_url).set_title(title)
            if name:
                link.set_custom_params({"set": name})
                most = _most_marks(self.classroom, name)
                if most:
                    item = LineItem().set_label(title).set_resource_id(name)
                    link.set_lineitem(item.set_score_maximum(most))
            replies.append((title, deep.get_response_jwt([link])))
        return Choice(return_url, tuple(replies))


def _most_marks(classroom, name):
    for one in classroom.marks().sets:
        if one.name == name:
            return float(one.most.sum())
    return 0.0


def _step(check, sentence):
    """Take one of the library's steps; whatever a hostile token makes of it is a refusal."""
    try:
        check()
    except Exception as error:
        raise Refused(sentence) from error


def _check_signature(launch):
    try:
        _, algorithm = launch.get_public_key()
        if algorithm != "RS256":
            raise Refused("The token is not signed by RS256, as the standard wants.")
        launch.validate_jwt_signature()
    except Refused:
        raise
    except Exception as error:
        cause = error.__cause__
        if isinstance(cause, jwt.ExpiredSignatureError):
            sentence = f"The token has expired. {AGAIN}"
        elif isinstance(cause, jwt.MissingRequiredClaimError):
            sentence = "The token leaves out what the standard wants: ask your instructor."
        elif isinstance(cause, requests.RequestException | ValueError):
            sentence = (
                "The learning platform's keys could not be fetched, so its token could not be "
                "checked. Try again later, or tell your instructor."
            )
        else:
            sentence = f"The token was not signed by your learning platform. {AGAIN}"
        raise Refused(sentence) from error


def _check_times(claims):
    latest = time.time() + SKEW_S
    for name in ("iat", "nbf"):
        value = claims.get(name, 0)
        if isinstance(value, bool) or not isinstance(value, int | float) or not value <= latest:
            raise Refused(
                f"The token does not count yet: the platform's clock or the course's is wrong. "
                f"{AGAIN}"
            )
