"""The served page's doors, knocked at over real HTTP: who may ask, how much, and what a refusal looks like."""

import base64
import json
import re
import socket
import sys
import threading
from http.client import HTTPConnection
from pathlib import Path

import pytest
from droptrail.cli import serve_app, serve_guard
from droptrail.cli.main import main
from droptrail.cli.serve import HOST, _listening
from droptrail.cli.serve_app import _for_the_page, application
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.model.errors import InputError

TOKEN = "a-token-of-this-test"
SHEET = Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv"
DRAWING = SHEET.with_suffix(".dxf")


@pytest.fixture(scope="module")
def port():
    """The application on a real socket, in a thread."""
    with _listening(0) as listener:
        number = listener.getsockname()[1]
        server = serve_app.server(application(number, TOKEN))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        yield number
        server.should_exit = True
        thread.join(timeout=10)


def ask(port, method="POST", path="/api/read", body=None, **changes):
    """(status, headers, body); header changes: None takes one away."""
    if body is None:
        body = b"{}" if method == "POST" else b""
    headers = {
        "host": f"127.0.0.1:{port}",
        "content-type": "application/json",
        "x-droptrail-token": TOKEN,
        "origin": f"http://127.0.0.1:{port}",
        "sec-fetch-site": "same-origin",
    }
    headers |= {name.replace("_", "-"): value for name, value in changes.items()}
    connection = HTTPConnection("127.0.0.1", port, timeout=30)
    try:
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in ({"content-length": str(len(body))} | headers).items():
            if value is not None:
                connection.putheader(name, value)
        connection.endheaders()
        connection.send(body)
        answer = connection.getresponse()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
    finally:
        connection.close()


def encoded(data):
    return base64.b64encode(data).decode()


def post(port, path, **sent):
    """(status, body) of a JSON request."""
    status, _, body = ask(port, path=path, body=json.dumps(sent).encode())
    return status, body


def sent(**changes):
    sheet = {"name": "tourer.csv", "data": encoded(SHEET.read_bytes())}
    return json.dumps({"sheet": sheet, **changes}).encode()


# --- what is let in -------------------------------------------------------------------------------------------
def test_a_sheet_is_read_and_a_tube_changed(port):
    status, _, body = ask(port, body=sent())
    read = json.loads(body)
    assert status == 200
    assert read["verdict"] == "pass"
    tubes = read["tubes"]
    tubes["top_tube"]["outside_diameter"] = "31.8"
    status, body = post(port, "/api/tubes", session=read["session"], tubes=tubes)
    assert status == 200
    assert "changed on the page: top tube" in json.loads(body)["source"]


def test_the_page_carries_the_token_and_strict_headers(port):
    status, headers, body = ask(port, "GET", "/")
    assert status == 200
    assert f'content="{TOKEN}"' in body.decode()
    policy = dict(
        part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";")
    )
    assert policy["script-src"] == "'self'"
    assert policy["default-src"] == "'none'"
    assert policy["frame-ancestors"] == "'none'"
    assert headers["cache-control"] == "no-store"
    assert not any(name.startswith("access-control") for name in headers)


def test_the_page_and_its_scripts_load_nothing_from_outside(port):
    page = ask(port, "GET", "/")[2].decode()
    named = re.findall(r'(?:src|href)="([^"]+)"', page)
    assert named
    assert all(name.startswith(("/", "data:", "#")) for name in named)
    for name in (n for n in named if n.startswith("/")):
        assert ask(port, "GET", name)[0] == 200, name


# --- who is kept out -------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("why", "changes", "status"),
    [
        ("no token", {"x_droptrail_token": None}, 403),
        ("token of an earlier start", {"x_droptrail_token": "another-token"}, 403),
        ("token beyond ASCII", {"x_droptrail_token": "ü"}, 403),
        ("another page", {"origin": "https://example.org"}, 403),
        ("a page without origin", {"origin": "null"}, 403),
        ("the same machine, another port", {"origin": "http://127.0.0.1:1"}, 403),
        ("a page of the same site only", {"sec_fetch_site": "same-site"}, 403),
        ("another site", {"sec_fetch_site": "cross-site"}, 403),
        ("a name that resolves here", {"host": "rebound.example.org"}, 403),
        ("a form, which needs no permission to be sent", {"content_type": "text/plain"}, 415),
        ("larger than any drawing", {"content_length": str(10**9)}, 413),
        ("a length that is none", {"content_length": "-5"}, 400),
    ],
)
def test_posts_that_are_refused(port, why, changes, status):
    answered, headers, body = ask(
        port, body=sent() if "content_length" not in changes else b"", **changes
    )
    assert answered == status, why
    if headers.get("content-type") == "application/json":
        assert set(json.loads(body)) == {"error"}


def test_without_browser_headers_the_token_alone_is_enough(port):
    """A script on the same machine; browsers always send Origin with a POST."""
    assert ask(port, body=sent(), origin=None, sec_fetch_site=None)[0] == 200


def test_a_foreign_host_name_gets_no_page_and_so_no_token(port):
    status, _, body = ask(port, "GET", "/", host="rebound.example.org")
    assert status == 403
    assert TOKEN.encode() not in body


@pytest.mark.parametrize(
    "path",
    [
        "/static/../serve.py",
        "/static/%2e%2e%2fpyproject.toml",
        "/static/..%5c..%5cx",
        "/static/report.html.j2",
        "/static//etc/passwd",
        "/static/",
    ],
)
def test_only_the_listed_files_are_given(port, path):
    assert ask(port, "GET", path)[0] == 404


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH"])
def test_other_methods_are_refused(port, method):
    assert ask(port, method)[0] == 405


# --- bounds ----------------------------------------------------------------------------------------------------
def test_a_body_larger_than_it_claims_is_cut_off(port, monkeypatch):
    monkeypatch.setattr(serve_guard, "MAX_BODY", 1000)
    with socket.create_connection((HOST, port), timeout=10) as line:
        line.sendall(
            (
                f"POST /api/read HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nX-Droptrail-Token: {TOKEN}\r\n"
                "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
            ).encode()
        )
        line.sendall(b"800\r\n" + b" " * 0x800 + b"\r\n0\r\n\r\n")
        assert line.recv(100).startswith(b"HTTP/1.1 413")


def test_a_body_that_never_comes_is_given_up(port, monkeypatch):
    monkeypatch.setattr(serve_guard, "BODY_SECONDS", 0.2)
    with socket.create_connection((HOST, port), timeout=10) as line:
        line.sendall(
            (
                f"POST /api/read HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nX-Droptrail-Token: {TOKEN}\r\n"
                "Content-Type: application/json\r\nContent-Length: 50\r\n\r\n{"
            ).encode()
        )
        assert line.recv(100).startswith(b"HTTP/1.1 408")


def test_half_sent_headers_do_not_lock_the_page_out(port):
    """Programs that open connections and never finish their request: the builder's browser still gets its page."""
    silent = []
    try:
        for _ in range(60):  # more than the server has places
            connection = socket.create_connection((HOST, port), timeout=5)
            connection.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ")
            silent.append(connection)
        assert ask(port, "GET", "/", b"")[0] == 200
    finally:
        for connection in silent:
            connection.close()


def test_a_connection_that_says_nothing_is_closed(port, monkeypatch):
    monkeypatch.setattr(serve_guard, "SILENT_SECONDS", 0.2)
    with socket.create_connection((HOST, port), timeout=10) as connection:
        connection.sendall(b"GET / HT")
        assert connection.recv(100) == b""


def test_a_page_asked_for_with_a_body_does_not_wait_for_it(port):
    with socket.create_connection((HOST, port), timeout=5) as connection:
        host = f"127.0.0.1:{port}".encode()
        connection.sendall(b"GET / HTTP/1.1\r\nHost: " + host + b"\r\nContent-Length: 9\r\n\r\n")
        assert connection.recv(100).startswith(b"HTTP/1.1 400")


def test_the_oldest_drawing_is_put_away(port, monkeypatch):
    monkeypatch.setattr(serve_app, "SESSIONS", 2)
    names = [json.loads(ask(port, body=sent())[2])["session"] for _ in range(3)]
    answers = [post(port, "/api/sheet", session=name, kind="csv") for name in names]
    assert [status for status, _ in answers] == [422, 200, 200]
    assert "drop the files again" in json.loads(answers[0][1])["error"]


# --- refusals in one line ----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"not json", "no JSON object"),
        (b"[]", "no JSON object"),
        (b"{}", "drop a drawing"),
        (json.dumps({"sheet": 5}).encode(), "cannot be read"),
        (json.dumps({"sheet": {"name": "a.csv", "data": "***"}}).encode(), "arrived damaged"),
        (json.dumps({"drawing": {"name": "a.dxf", "data": ""}}).encode(), "a.dxf: is empty"),
        (sent(units="furlong"), "give mm, cm, m or inch"),
        (sent(scale=-1), "give a number above 0"),
        (
            sent(sheet={"name": "../../x.csv", "data": encoded(b"item,value\nreach,abc\n")}),
            "x.csv, row 2",
        ),
    ],
)
def test_what_cannot_be_read_gets_one_plain_line(port, body, words):
    status, _, answer = ask(port, body=body)
    message = json.loads(answer)["error"]
    assert status in (400, 422)
    assert words in message
    assert "\n" not in message
    assert ".." not in message


def test_a_wrong_cell_is_named(port):
    read = json.loads(ask(port, body=sent())[2])
    tubes = {"seat_tube": {"wall": "0"}}
    status, body = post(port, "/api/tubes", session=read["session"], tubes=tubes)
    answer = json.loads(body)
    assert status == 422
    assert (answer["member"], answer["field"]) == ("seat_tube", "wall")
    assert "expected 0.2 to 12 mm" in answer["error"]


def test_a_fault_of_the_program_shows_no_traceback(port, monkeypatch):
    def broken(*_: object) -> None:
        raise RuntimeError("secret detail")

    monkeypatch.setattr(serve_app, "open_files", broken)
    status, _, body = ask(port, body=sent())
    assert status == 500
    assert "fault of the program" in json.loads(body)["error"]
    assert b"Traceback" not in body
    assert b"secret detail" not in body


# --- the command -------------------------------------------------------------------------------------------------
def test_a_program_that_is_busy_says_come_again(port, monkeypatch):
    """Its own status, as RFC 9110 section 15.6.4 has it, so that the page can tell it from a refusal."""
    monkeypatch.setattr(serve_app, "WAITING", 0)
    status, _, body = ask(port, body=sent())
    assert status == 503
    assert "still busy" in json.loads(body)["error"]


def test_it_listens_on_this_machine_only():
    with _listening(0) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"


def test_a_port_in_use_is_said_plainly(port, capsys):
    assert main(["serve", "--port", str(port)]) == 1
    assert f"port {port} cannot be used" in capsys.readouterr().err


def test_a_missing_package_is_named(monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    assert main(["serve", "--port", "0"]) == 1
    assert "uvicorn" in capsys.readouterr().err


def test_options_of_the_command_line_are_said_to_be_such():
    named = InputError("name it with --pick seat_tube=1F", option="--pick")
    assert _for_the_page(named).endswith("this page has none for that)")
    # a word of a file that looks like an option is none
    assert _for_the_page(InputError("no tube --pick")) == "no tube --pick"
    for how in ({"pick": {"wing": "1F"}}, {"layers": {"no such layer": "seat_tube"}}):
        with pytest.raises(InputError) as refused:
            read_side_view(DRAWING, **how)
        assert "this page has none" in _for_the_page(refused.value)


def test_brackets_without_end_are_no_json(port):
    status, _, body = ask(port, body=b"[" * 200_000)
    assert (status, b"no JSON object" in body) == (400, True)
