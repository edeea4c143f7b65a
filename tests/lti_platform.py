"""A learning platform of the tests' own, on loopback: keys, tokens, and a gradebook with a ledger.

It is built from the standards' texts and PyJWT, not from the library that the course uses.
"""

import asyncio
import json
import threading
import time
import uuid
from urllib.parse import parse_qs

import jwt
import tornado.web
from cryptography.hazmat.primitives.asymmetric import rsa
from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets

ISSUER, CLIENT, DEPLOYMENT = "https://platform.example", "client-1", "deployment-1"
CLAIM = "https://purl.imsglobal.org/spec/lti/claim/"
SERVICE = "https://purl.imsglobal.org/spec/lti-ags/"
KEY = rsa.generate_private_key(public_exponent=65537, key_size=2048)
OTHER_KEY = rsa.generate_private_key(public_exponent=65537, key_size=2048)
LEARNER = "http://purl.imsglobal.org/vocab/lis/v2/membership#Learner"
INSTRUCTOR = "http://purl.imsglobal.org/vocab/lis/v2/membership#Instructor"


def public_jwk(key=KEY, kid="platform-key"):
    made = json.loads(jwt.algorithms.RSAAlgorithm.to_jwk(key.public_key()))
    return {**made, "kid": kid, "alg": "RS256", "use": "sig"}


class Loop:
    """A server's loop in a thread of its own."""

    def __init__(self, start):
        self.ready = threading.Event()
        self.start = start
        self.thread = threading.Thread(target=self._run, daemon=True)

    def _run(self):
        async def main():
            self.loop, self.stop = asyncio.get_running_loop(), asyncio.Event()
            task = asyncio.ensure_future(self.start(self._listens))
            await self.stop.wait()
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)

        asyncio.run(main())

    def _listens(self, port):
        self.port = port
        self.ready.set()

    def __enter__(self):
        self.thread.start()
        assert self.ready.wait(20)
        return self

    def __exit__(self, *_):
        self.loop.call_soon_threadsafe(self.stop.set)
        self.thread.join(20)
        assert not self.thread.is_alive()


class Platform:
    """What it was sent, and how it answers."""

    def __init__(self):
        self.line_items, self.ledger, self.results = [], [], {}
        self.tokens, self.assertions = set(), set()
        self.tool_key, self.port, self.fail_at, self.after = None, None, {}, None
        self.jwks = {"keys": [public_jwk()]}
        self.scores_seen = 0

    @property
    def url(self):
        return f"http://127.0.0.1:{self.port}"

    async def serve(self, ready):
        sockets = bind_sockets(0, "127.0.0.1")
        self.port = sockets[0].getsockname()[1]
        given = {"platform": self}
        application = tornado.web.Application(
            [
                ("/jwks", Keys, given),
                ("/token", Token, given),
                ("/course/lineitems", LineItems, given),
                (r"/course/lineitems/(\d+)/scores", Scores, given),
            ],
            log_function=lambda handler: None,
        )
        server = HTTPServer(application)
        server.add_sockets(sockets)
        ready(self.port)
        try:
            await asyncio.Event().wait()
        finally:
            server.stop()
            await server.close_all_connections()

    def claims(self, nonce, **changed):
        now = int(time.time())
        made = {
            "iss": ISSUER,
            "aud": CLIENT,
            "sub": "sub-ada",
            "name": "Ada Invented",
            "iat": now,
            "exp": now + 300,
            "nonce": nonce,
            CLAIM + "deployment_id": DEPLOYMENT,
            CLAIM + "message_type": "LtiResourceLinkRequest",
            CLAIM + "version": "1.3.0",
            CLAIM + "roles": [LEARNER],
            CLAIM + "context": {"id": "course-7"},
            CLAIM + "resource_link": {"id": "link-1"},
            SERVICE + "claim/endpoint": {
                "scope": [SERVICE + "scope/lineitem", SERVICE + "scope/score"],
                "lineitems": f"{self.url}/course/lineitems",
            },
        }
        plain = {*made, "azp", "email", "nbf"}
        made |= {name if name in plain else CLAIM + name: changed[name] for name in changed}
        return {name: value for name, value in made.items() if value is not None}


class Handler(tornado.web.RequestHandler):
    def initialize(self, platform):
        self.platform = platform

    def authorized(self):
        token = self.request.headers.get("Authorization", "").removeprefix("Bearer ")
        if token not in self.platform.tokens:
            raise tornado.web.HTTPError(401, log_message=None)

    def write_error(self, status_code, **_):
        self.finish(b"")

    def log_exception(self, *_):
        pass


class Keys(Handler):
    def get(self):
        self.finish(self.platform.jwks)


class Token(Handler):
    def post(self):
        """RFC 7523: an assertion signed by the tool's key, for this address, used once."""
        form = {name: values[0] for name, values in parse_qs(self.request.body.decode()).items()}
        assert form["grant_type"] == "client_credentials"
        assert form["client_assertion_type"].endswith(":jwt-bearer")
        try:
            claims = jwt.decode(
                form["client_assertion"],
                self.platform.tool_key,
                algorithms=["RS256"],
                audience=f"{self.platform.url}/token",
                options={"require": ["exp", "iat", "jti", "iss", "sub"]},
            )
        except jwt.InvalidTokenError:
            raise tornado.web.HTTPError(401) from None
        if claims["iss"] != CLIENT or claims["jti"] in self.platform.assertions:
            raise tornado.web.HTTPError(401)
        self.platform.assertions.add(claims["jti"])
        token = uuid.uuid4().hex
        self.platform.tokens.add(token)
        self.finish({"access_token": token, "token_type": "Bearer", "expires_in": 3600})


class LineItems(Handler):
    def get(self):
        self.authorized()
        self.finish(json.dumps(self.platform.line_items))

    def post(self):
        self.authorized()
        items = self.platform.line_items
        made = json.loads(self.request.body)
        made["id"] = f"{self.platform.url}/course/lineitems/{len(items)}"
        items.append(made)
        self.set_status(201)
        self.finish(made)


class Scores(Handler):
    def post(self, item):
        self.authorized()
        platform, score = self.platform, json.loads(self.request.body)
        assert self.request.headers["Content-Type"] == "application/vnd.ims.lis.v1.score+json"
        platform.scores_seen += 1
        if score["userId"] in platform.fail_at:
            raise tornado.web.HTTPError(platform.fail_at[score["userId"]])
        before = platform.results.get((item, score["userId"]))
        if before and before["timestamp"] >= score["timestamp"]:
            raise tornado.web.HTTPError(409)
        platform.ledger.append(score)
        platform.results[item, score["userId"]] = score
        if platform.after:
            platform.after(len(platform.ledger))
        self.set_status(204)
