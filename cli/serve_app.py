"""The served page as a small web application: reading, correcting, saving; every answer is made by the workbench."""

import json
from collections import OrderedDict
from collections.abc import Callable, Mapping
from secrets import token_urlsafe
from typing import Any

import anyio
import anyio.to_thread
import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from ..converters.drawings.labelling.doubt import InDoubtError
from ..converters.files.fitsheet.patch_xlsx import holds_formulas
from ..converters.files.fitsheet.starter import starter_sheet
from ..converters.inputs import ReadOptions
from ..converters.showing.report.page import plotly_script, resource, templates
from ..model.errors import FrameError, InputError
from ..model.version import VERSION
from ..validation.workbench import (
    MAX_DRAWING,
    MAX_SHEET,
    Bench,
    TubeError,
    Upload,
    file_stem,
    open_files,
    sheet_file,
    sheet_name,
    with_changes,
)
from ..validation.workbench_doubt import doubt_page
from ..validation.workbench_knobs import KnobError, Knobs
from ..validation.workbench_page import page, report_file
from ..validation.workbench_shelf import NO_SHELF, Shelf
from .serve_guard import Guard, Impatient

SESSIONS = 8  # drawings held at once; the oldest goes
WAITING = 6  # requests that may wait while one is worked out
MOST_KNOBS = 100  # items turned at once; more than there are
SECONDS = 90.0  # longest a request may take
# callables: the large script is read when a page first asks for it
STATIC: Mapping[str, tuple[str, Callable[[], str]]] = {
    "report.css": ("text/css", lambda: resource("report.css")),
    "serve.css": ("text/css", lambda: resource("serve.css")),
    "report.js": ("text/javascript", lambda: resource("report.js")),
    "serve.js": ("text/javascript", lambda: resource("serve.js")),
    "plotly.js": ("text/javascript", plotly_script),
}
_FILES = {
    "csv": "text/csv; charset=utf-8",
    "html": "text/html; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


_FORMULAS = (
    "Saved. This workbook holds formulas: open it in your spreadsheet and save it once, so that they are worked "
    "out anew."
)


class BusyError(InputError):
    """Too much is waiting already; the same request goes through later."""


class Desk:
    """The benches that are open, by a name that cannot be guessed; one piece of work at a time."""

    def __init__(self, shelf: Shelf = NO_SHELF) -> None:
        self.shelf = shelf
        self.benches: OrderedDict[str, Bench] = OrderedDict()
        # a check takes all of a core: two at once would both be slow, and memory twice as full
        self.limiter = anyio.CapacityLimiter(1)
        self.waiting = 0

    def put(self, bench: Bench) -> str:
        # nobody else on this machine may guess it and look at the drawing
        name = token_urlsafe(16)
        self.benches[name] = bench
        while len(self.benches) > SESSIONS:
            self.benches.popitem(last=False)
        return name

    def get(self, sent: Mapping[str, Any]) -> Bench:
        name = str(sent.get("session"))
        bench = self.benches.get(name)
        if bench is None:
            raise InputError(
                "the page has been open too long and its drawing was put away; drop the files again"
            )
        # what is in use is not the oldest, however early it was opened
        self.benches.move_to_end(name)
        return bench

    async def work(self, job: Callable[[], Any]) -> Any:
        """Run in a thread. Raises BusyError when too much waits, InputError when it takes too long."""
        # a page that asks again and again must not fill the memory with what it sent
        if self.waiting >= WAITING:
            raise BusyError("still busy with earlier requests; try again in a moment")
        self.waiting += 1
        try:
            # a bound on waiting and working together: the page shows one refusal for both
            with anyio.fail_after(SECONDS):
                return await anyio.to_thread.run_sync(
                    # a thread cannot be stopped; it is left behind, and its answer thrown away
                    job,
                    abandon_on_cancel=True,
                    limiter=self.limiter,
                )
        except TimeoutError as error:
            raise InputError(
                f"took longer than {SECONDS:.0f} s and was given up; try the command line"
            ) from error
        # however it ends, or the count would only grow and the page refuse for ever
        finally:
            self.waiting -= 1


def application(port: int, token: str, shelf: Shelf = NO_SHELF) -> ASGIApp:
    """The guarded application for one start of `droptrail serve`."""
    desk = Desk(shelf)
    routes = [
        Route("/", _home(token)),
        Route("/static/{name}", _static),
        Route("/starter.csv", _starter),
        *(
            # POST only: whatever works on a drawing must come from our own page
            Route(f"/api/{name}", _endpoint(desk, handler), methods=["POST"])
            for name, handler in _API.items()
        ),
    ]
    # outermost, so that nothing is routed before it was let in
    return Guard(Starlette(routes=routes), port, token)


def server(app: ASGIApp) -> uvicorn.Server:
    """The server of `app`: patient with a slow builder, not with a connection that says nothing."""
    return uvicorn.Server(
        uvicorn.Config(
            app,
            # the terminal is the builder's; one line a request would bury the address
            log_level="error",
            access_log=False,
            server_header=False,
            # no start-up messages: the guard answers plain requests only
            lifespan="off",
            # no sockets that stay open: less to guard
            ws="none",
            http=Impatient,
            loop="asyncio",
            # no proxy stands before it, so no header may say where a request came from
            proxy_headers=False,
            # a page needs a handful; more at once is no builder
            limit_concurrency=40,
            timeout_keep_alive=5,
            timeout_graceful_shutdown=2,
        )
    )


def warm_up() -> None:
    """Work the starter sheet through once, so that the first drawing need not wait for libraries to load."""
    # the starter goes through all that a drawing later needs
    bench = open_files(None, Upload("starter.csv", starter_sheet().encode()))
    page(bench, bench, True)


def _home(token: str) -> Callable[[Request], Response]:
    def home(request: Request) -> Response:
        return HTMLResponse(
            templates().get_template("serve.html.j2").render(token=token, version=VERSION)
        )

    return home


def _static(request: Request) -> Response:
    held = STATIC.get(request.path_params["name"])
    # a fixed table, not a folder: no path in a request can lead out of it
    if held is None:
        return JSONResponse({"error": "there is no such file"}, 404)
    return Response(held[1](), media_type=held[0])


def _starter(request: Request) -> Response:
    # with the mark that tells spreadsheets the letters are UTF-8
    return _download(starter_sheet().encode("utf-8-sig"), "starter_sheet.csv", "csv")


def _download(data: bytes, name: str, kind: str) -> Response:
    # harmless letters only, so the name needs no quoting
    disposition = f'attachment; filename="{name}"'
    return Response(
        data, headers={"content-type": _FILES[kind], "content-disposition": disposition}
    )


# --- the interface ------------------------------------------------------------------------------------------------
def _read(desk: Desk, sent: Mapping[str, Any]) -> Response:
    """Files in, everything out."""
    drawing, sheet = (
        _upload(sent, kind, limit)
        for kind, limit in (("drawing", MAX_DRAWING), ("sheet", MAX_SHEET))
    )
    # plain: a drawing that came without a sheet gets plain steel tubes, listed as assumed
    try:
        bench = open_files(drawing, sheet, _options(sent), sent.get("plain") is True)
    except InDoubtError as doubt:
        if drawing is None or not doubt.proposals:
            raise
        # the page asks: the lines to choose between, each a click
        return JSONResponse({"error": str(doubt), "doubt": doubt_page(doubt, drawing)}, 422)
    return JSONResponse({"session": desk.put(bench), **page(bench, bench, True)})


def _tubes(desk: Desk, sent: Mapping[str, Any]) -> Response:
    """Corrected tubes: meshed and solved at once; with `full` cross-checked and vibrating too."""
    # quick leaves the second solver out, so that a correction shows at once
    full = sent.get("full") is True
    return JSONResponse(page(_bench(desk, sent, not full), desk.get(sent), full))


def _again(desk: Desk, sent: Mapping[str, Any]) -> Response:
    """A page that was loaded again asks for what it showed."""
    bench = desk.get(sent)
    return JSONResponse({"session": sent["session"], **page(bench, bench, True)})


def _sheet(desk: Desk, sent: Mapping[str, Any]) -> Response:
    """The sheet as it came with the edited cells changed; without one a new sheet."""
    bench = _bench(desk, sent, True)
    picked = sent.get("from_drawing", [])
    # what the page sends is checked like any input: it may be an old page
    if not isinstance(picked, list):
        raise InputError("the page sent choices that cannot be read; load it again")
    kind = "csv"
    if sent.get("kind") == "xlsx":
        kind = "xlsx"
    data = sheet_file(bench, f".{kind}", [str(item) for item in picked])
    # a ZIP begins so: a sheet goes back in the format it came in, whatever was asked
    if data.startswith(b"PK\x03\x04"):
        kind = "xlsx"
    else:
        kind = "csv"
    answer = _download(data, sheet_name(bench, f".{kind}"), kind)
    if holds_formulas(data):
        # in a header, since the body is the file itself
        answer.headers["x-droptrail-note"] = _FORMULAS
    return answer


def _report(desk: Desk, sent: Mapping[str, Any]) -> Response:
    bench = _bench(desk, sent, False)
    return _download(report_file(bench), f"{file_stem(bench)}.html", "html")


def _try(desk: Desk, sent: Mapping[str, Any]) -> Response:
    """Several bicycles at once: what was typed compared, or the front of a search."""
    from ..validation.workbench_choice import compared, searched, tried_page

    bench = _bench(desk, sent, True)
    lines = sent.get("lines")
    if not isinstance(lines, str):
        raise InputError("the page sent options that cannot be read; load it again")
    # a search names its variants itself, so what is kept does not apply
    if sent.get("search") is True:
        tried = searched(bench, lines.splitlines(), sent.get("firm") is True)
    else:
        tried = compared(bench, lines.splitlines(), _knobs(sent).keep)
    # the bench as it was opened: gains are told against the builder's own bicycle
    original = desk.get(sent).reading.need_bicycle()
    return JSONResponse(tried_page(tried, original))


def _shelf(desk: Desk, sent: Mapping[str, Any]) -> Response:
    """The shelf: what is on it; one more kept, one opened, some put beside the bench."""
    shelf = desk.shelf
    wanted = sent.get("do")
    name = str(sent.get("name", ""))
    if wanted == "keep":
        kept = shelf.keep(_bench(desk, sent, True), name)
        return JSONResponse({**shelf.page(), "kept": kept})
    # a bicycle from the shelf is a sheet without its drawing
    if wanted == "open":
        bench = open_files(None, shelf.opened(name))
        return JSONResponse({"session": desk.put(bench), **page(bench, bench, True)})
    if wanted == "beside":
        names = sent.get("names")
        if not isinstance(names, list):
            raise InputError("the page sent names that cannot be read; load it again")
        bench = _bench(desk, sent, True)
        return JSONResponse({"beside": shelf.beside(bench, [str(one) for one in names])})
    return JSONResponse(shelf.page())


_API = {
    "shelf": _shelf,
    "read": _read,
    "again": _again,
    "tubes": _tubes,
    "try": _try,
    "sheet": _sheet,
    "report": _report,
}


def _bench(desk: Desk, sent: Mapping[str, Any], quick: bool) -> Bench:
    """The open bench with tubes and knobs as the page shows them."""
    texts = sent.get("tubes", {})
    if not isinstance(texts, dict) or not all(isinstance(cells, dict) for cells in texts.values()):
        raise InputError("the page sent tubes that cannot be read; load it again")
    return with_changes(desk.get(sent), texts, _knobs(sent), quick)


def _knobs(sent: Mapping[str, Any]) -> Knobs:
    items = sent.get("items", {})
    keep = sent.get("keep", [])
    if not isinstance(items, dict) or not isinstance(keep, list) or len(items) > MOST_KNOBS:
        raise InputError("the page sent items that cannot be read; load it again")
    # cut: names are short, and what is longer comes from no page of ours
    texts = {str(name)[:60]: str(text)[:60] for name, text in items.items()}
    return Knobs(texts, tuple(str(name)[:60] for name in keep[:MOST_KNOBS]))


def _upload(sent: Mapping[str, Any], kind: str, limit: int) -> Upload | None:
    held = sent.get(kind)
    if held is None:
        return None
    if not isinstance(held, dict):
        raise InputError(f"the page sent a {kind} that cannot be read; load it again")
    return Upload.of(held, limit)


def _options(sent: Mapping[str, Any]) -> ReadOptions:
    """Unit and scale that the builder states where the drawing leaves them in doubt."""
    units = sent.get("units") or None
    scale = sent.get("scale") or None
    # the same units as the command line's, checked here since no parser has seen them
    if units not in (None, "mm", "cm", "m", "inch"):
        raise InputError(f"unit '{units}': give mm, cm, m or inch")
    # a bool is an int in Python and would pass as 1, a scale that changes nothing
    if isinstance(scale, bool) or (
        scale is not None and not (isinstance(scale, int | float) and 0 < scale < 1e6)
    ):
        raise InputError(f"scale 1:{scale}: give a number above 0, such as 10 for 1:10")
    return ReadOptions(units=units, scale=scale, pick=_picks(sent))


def _picks(sent: Mapping[str, Any]) -> dict[str, str] | None:
    """What was settled by clicks: member -> handles."""
    held = sent.get("pick") or {}
    if not isinstance(held, dict) or len(held) > MOST_KNOBS:
        raise InputError("the page sent picks that cannot be read; load it again")
    return {str(member)[:60]: str(handles)[:400] for member, handles in held.items()} or None


def _endpoint(desk: Desk, handler: Callable[[Desk, Mapping[str, Any]], Response]) -> Any:
    """JSON in; refusals as one line of JSON; a fault of ours is said to be one, without a traceback."""

    async def answer(request: Request) -> Response:
        try:
            # the body is whole and bounded by the guard before it gets here
            sent = json.loads(await request.body())
            if not isinstance(sent, dict):
                raise ValueError
        # nesting too deep is a fault of the sender, not of ours
        except (ValueError, RecursionError):
            return JSONResponse(
                {"error": "the page sent something that is no JSON object; load it again"}, 400
            )
        try:
            return await desk.work(lambda: handler(desk, sent))  # type: ignore[no-any-return]
        # the page marks the field that was refused, so member and field go with the words
        except TubeError as error:
            return JSONResponse(
                {"error": str(error), "member": error.member, "field": error.field}, 422
            )
        # likewise for an item that was turned
        except KnobError as error:
            return JSONResponse({"error": str(error), "item": error.item}, 422)
        # the page asks again by itself: a builder who reloads has not done anything wrong
        except BusyError as error:
            return JSONResponse({"error": str(error)}, 503)
        except FrameError as error:
            return JSONResponse({"error": _for_the_page(error)}, 422)
        # whatever else happens, the page gets one line and the terminal no traceback
        except Exception as error:
            return JSONResponse(
                {
                    "error": f"droptrail met something it does not know ({type(error).__name__}). This is "
                    "a fault of the program, not of your work; please report it with the files"
                },
                500,
            )

    return answer


def _for_the_page(error: FrameError) -> str:
    """A refusal that proposes options of the command line says that they go there."""
    if isinstance(error, InputError) and error.option:
        return f"{error} (options are for `droptrail check` in a terminal; this page has none for that)"
    return str(error)
