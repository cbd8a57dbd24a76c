// The served page: files in by drop or choice, tubes corrected in the table, results put in place as they come.
"use strict";
(() => {
  const FIELDS = { outside_diameter: "outside diameter, mm", wall: "wall, mm", butts: "butts, mm", material: "material" };
  const SHEETS = /\.(csv|tsv|txt|xlsx)$/i;
  const byId = (id) => document.getElementById(id);
  const token = document.querySelector('meta[name="droptrail-token"]').content;
  const KEEP = "droptrail-page", MOST_KEPT = 4e6;
  const LEAVE = "Your changes are not saved. Go on without them?";
  // files : those behind what is shown. offered : those dropped last, which may have been refused. coming : those being read.
  let files = {}, offered = {}, coming = null, plainly = false;
  let session = null, asRead = null, sheetName = null, differences = [], turn = 0, soon = null, later = null;
  // knobs : every other item as the program says it now; turned : those that were typed, name -> text.
  let knobs = [], turned = {};
  // picks : member -> handles, what was settled by a click where the drawing is in doubt.
  let picks = {};
  // Every state of tubes and knobs is one text; `past` and `ahead` are those that undo and redo go to.
  let now = "", past = [], ahead = [], saved = "", typing = { name: "", at: 0 }, chosen = {};

  // --- talking to the program -------------------------------------------------------------------------------
  const PATIENCE = 20, PAUSE = 500;  // times and ms: how long a program that is busy is asked again
  async function post(path, body) {
    const ask = () => fetch(`/api/${path}`, { method: "POST", body: JSON.stringify(body),
      headers: { "content-type": "application/json", "x-droptrail-token": token } });
    let response;
    try {
      response = await ask();
      for (let tries = 0; response.status === 503 && tries < PATIENCE; tries++) {
        await new Promise((done) => setTimeout(done, PAUSE));
        response = await ask();
      }
    } catch { throw new Error("droptrail does not answer; is it still running?"); }
    if (response.ok) return response;
    const held = await response.json().catch(() => ({ error: `refused (${response.status})` }));
    throw Object.assign(new Error(held.error), { member: held.member, field: held.field, item: held.item, doubt: held.doubt });
  }

  const encoded = (file) => new Promise((done, fail) => {
    const reader = new FileReader();
    reader.onload = () => done({ name: file.name, data: reader.result.slice(reader.result.indexOf(",") + 1) });
    reader.onerror = () => fail(new Error(`${file.name} could not be read by the browser`));
    reader.readAsDataURL(file);
  });

  function say(words) { byId("status").textContent = words; }
  function complain(id, words) { byId(id).textContent = words; byId(id).hidden = !words; }

  // --- files ------------------------------------------------------------------------------------------------
  async function take(list) {
    const known = [...list].filter((file) => SHEETS.test(file.name) || /\.dxf$/i.test(file.name));
    if (list.length && !known.length) return complain("problem", "Only drawings (.dxf) and fit sheets (.csv, .xlsx) are understood here.");
    if (!known.length || (unsaved() && !confirm(LEAVE))) return;
    // A sheet picked while its drawing is still being read goes with that drawing.
    const held = coming ?? files, wanted = { ...held };
    try {
      for (const file of known) wanted[SHEETS.test(file.name) ? "sheet" : "drawing"] = await encoded(file);
      if (wanted.drawing !== held.drawing) picks = {};
    } catch (error) { return complain("problem", error.message); }
    read(wanted, false);
  }

  function named(held) {
    for (const kind of ["drawing", "sheet"]) byId(`${kind}-name`).textContent = held[kind]?.name ?? "none yet";
  }

  // What cannot be read changes nothing: the page goes on showing what it showed, and says what was wrong.
  async function read(wanted, plain, restored = null) {
    const mine = ++turn;
    offered = coming = wanted;
    byId("doubt").hidden = true;
    complain("problem", ""); say("Reading ..."); document.body.classList.add("busy");
    try {
      const sent = { units: byId("units").value || null, scale: +byId("scale").value || null, plain, pick: picks, ...wanted };
      const answer = await (await post("read", sent)).json();
      if (mine !== turn) return;
      files = wanted; plainly = plain;
      opened(answer, restored);
    } catch (error) {
      if (mine !== turn) return;
      if (error.doubt) ask(error.doubt);
      say(""); complain("problem", error.message + (session ? " What is shown below is unchanged." : ""));
      if (!session) { clear(); byId("plain").hidden = true; }
    } finally { if (mine === turn) { coming = null; document.body.classList.remove("busy"); } }
  }

  // --- a drawing in doubt ----------------------------------------------------------------------------------------
  const typed = (held) => Object.entries(held).map(([member, handles]) => `--pick ${member}=${handles}`).join(" ");

  function ask(doubt) {
    byId("doubt").hidden = false;
    byId("doubt-picture").innerHTML = doubt.picture;
    const choose = (k) => { picks = { ...picks, ...doubt.options[k].picks }; read(offered, plainly); };
    const lines = [...byId("doubt-picture").querySelectorAll(".option")];
    lines.forEach((line) => {
      line.addEventListener("click", () => choose(+line.dataset.option));
      line.addEventListener("keydown", (event) => { if (event.key === "Enter") choose(+line.dataset.option); });
    });
    byId("doubt-options").replaceChildren(...doubt.options.map((option, k) => {
      const row = document.createElement("li"), button = Object.assign(document.createElement("button"), { type: "button", textContent: `Take this one${option.gives ? `: ${option.gives}` : ""}` });
      button.addEventListener("click", () => choose(k));
      for (const [kind, near] of [["pointerenter", true], ["pointerleave", false], ["focus", true], ["blur", false]]) button.addEventListener(kind, () => lines[k]?.classList.toggle("near", near));
      row.append(button, " ", Object.assign(document.createElement("code"), { textContent: option.words }));
      return row;
    }));
  }

  function opened(answer, restored) {
    byId("settled").hidden = !Object.keys(picks).length;
    byId("settled").textContent = `Settled by a click; to keep it for the command line: ${typed(picks)}`;
    session = answer.session; asRead = answer.tubes; sheetName = answer.sheet ?? null; differences = answer.differences ?? [];
    named(files); complain("tube-problem", "");
    turned = {}; byId("keep").value = "";
    if (asRead) { table(asRead, answer.materials); knobTable(answer.knobs); }
    show(answer, true);
    say(asRead ? "" : "The drawing was read. Drop the fit sheet too: it says which tubes the frame has.");
    byId("plain").hidden = Boolean(asRead);
    byId("files-fold").open = !asRead;
    byId("save-sheet").hidden = !sheetName;
    byId("save-csv").hidden = byId("save-xlsx").hidden = Boolean(sheetName);
    now = saved = snapshot(); past = []; ahead = []; chosen = {};
    tried = null; byId("tried").hidden = true; complain("try-problem", "");
    if (restored && asRead) {
      ({ past, ahead, saved, chosen } = restored);
      if (restored.now !== now) { now = restored.now; put(now); solve(true); }
    }
    stand();
  }

  // --- what a reload comes back to ----------------------------------------------------------------------------
  function keep() {
    const held = { session, now, past, ahead, saved, chosen, plainly, picks, units: byId("units").value, scale: byId("scale").value, files };
    try {
      const text = JSON.stringify(held);
      sessionStorage.setItem(KEEP, text.length < MOST_KEPT ? text : JSON.stringify({ ...held, files: shortened(files) }));
    } catch { sessionStorage.removeItem(KEEP); }
  }

  const shortened = (held) => Object.fromEntries(Object.entries(held).map(([kind, file]) => [kind, { name: file.name }]));

  async function comeBack() {
    let held = null;
    try { held = JSON.parse(sessionStorage.getItem(KEEP)); } catch { return; }
    if (!held?.session) return;
    byId("units").value = held.units; byId("scale").value = held.scale;
    const mine = ++turn;
    say("Reading ...");
    try {
      const answer = await (await post("again", { session: held.session })).json();
      if (mine !== turn) return;
      files = offered = held.files; plainly = held.plainly; picks = held.picks ?? {};
      opened(answer, held);
    } catch (error) {
      if (mine !== turn) return;
      picks = held.picks ?? {};
      if (Object.values(held.files).every((file) => file.data)) return read(held.files, held.plainly, held);
      say(""); complain("problem", error.message);
    }
  }

  // --- results ----------------------------------------------------------------------------------------------
  // With a bicycle on the bench the files fold away, so that the verdict comes first; the shelf stands ready without one.
  function results(there) { byId("results").hidden = byId("in-space").hidden = !there; if (!there) byId("files-fold").open = true; }
  const places = () => document.querySelectorAll('[id^="at-"]');
  function clear() {
    session = null; asRead = null; sheetName = null; differences = []; files = {}; named(files);
    results(false); byId("title").textContent = "droptrail"; byId("source").textContent = "";
    places().forEach((place) => place.replaceChildren());
  }

  // A folded part is known by its heading, so that what the builder opened stays open when its numbers change.
  const foldName = (fold) => (fold.querySelector("summary").firstElementChild ?? fold.querySelector("summary")).textContent;
  // Sections come as the program's own mark-up with every text of the files escaped; scripts in them would not run.
  function show(answer, fresh) {
    places().forEach((place) => {
      const html = answer.sections[place.id.slice(3)], open = new Set([...place.querySelectorAll("details[open]")].map(foldName));
      if (html === undefined && !fresh) return;
      place.innerHTML = html ?? "";
      place.querySelectorAll("details").forEach((fold) => { fold.open ||= open.has(foldName(fold)); });
      place.classList.remove("stale");
    });
    results(Boolean(answer.tubes));
    byId("source").textContent = answer.source;
    byId("title").textContent = answer.name ?? "droptrail";
    if (!answer.tubes) return;
    byId("changes").innerHTML = answer.changes;
    brief();
    if (knobs.length) knobsNow(answer.knobs);
    window.droptrail.show(answer.drawing, fresh);
  }

  // What changed in one line, for screens on which field and table do not fit together.
  function brief() {
    const rows = [...document.querySelectorAll("#changes tbody tr")].map((row) => [...row.cells].map((cell) => cell.textContent));
    const moved = rows.filter((cells) => cells[1] !== cells[2]);
    byId("brief").textContent = (moved.length ? moved : rows.slice(0, 1)).map(([what, , now, change]) => `${what} ${now}${moved.length ? ` (${change} %)` : ""}`).join(" · ");
  }

  // --- tubes ------------------------------------------------------------------------------------------------
  function table(tubes, materials) {
    byId("tube-rows").replaceChildren(...Object.entries(tubes).map(([member, cells]) => {
      const row = document.createElement("tr"), name = member.replaceAll("_", " ");
      row.append(Object.assign(document.createElement("td"), { textContent: name }));
      for (const [field, label] of Object.entries(FIELDS)) {
        const cell = document.createElement("td"), input = document.createElement(field === "material" ? "select" : "input");
        if (field === "material") input.append(...materials.map((material) => new Option(material)));
        else Object.assign(input, { type: "text", autocomplete: "off", spellcheck: false, maxLength: 100 });
        Object.assign(input, { value: cells[field], name: `${member}.${field}` });
        Object.assign(input.dataset, { member, field });
        input.setAttribute("aria-label", `${name}, ${label}`);
        cell.dataset.label = label;
        cell.append(input); row.append(cell);
      }
      return row;
    }));
  }

  // --- knobs ------------------------------------------------------------------------------------------------
  const knobInputs = () => [...document.querySelectorAll("#knob-rows input")];

  function knobTable(rows) {
    knobs = rows;
    const groups = new Map();
    for (const knob of rows) {
      if (!groups.has(knob.group)) {
        const set = document.createElement("fieldset");
        set.append(Object.assign(document.createElement("legend"), { textContent: knob.group }));
        groups.set(knob.group, set);
      }
      const label = document.createElement("label"), input = document.createElement("input");
      Object.assign(input, { type: "text", name: `knob.${knob.name}`, autocomplete: "off", spellcheck: false, maxLength: 60 });
      input.dataset.knob = knob.name; input.dataset.read = knob.value;
      label.append(Object.assign(document.createElement("span"), { textContent: knob.label }), input, Object.assign(document.createElement("small"), { textContent: knob.unit }));
      groups.get(knob.group).append(label);
    }
    byId("knob-rows").replaceChildren(...groups.values());
    knobsNow(rows);
  }

  // What was not typed shows what it has become: trail after another offset.
  function knobsNow(rows) {
    const values = Object.fromEntries(rows.map((knob) => [knob.name, knob.value]));
    for (const input of knobInputs()) {
      const name = input.dataset.knob;
      if (input !== document.activeElement) input.value = turned[name] ?? values[name];
      input.classList.toggle("changed", input.value !== input.dataset.read);
      input.classList.toggle("followed", !(name in turned) && values[name] !== input.dataset.read);
    }
  }

  function knobTyped(event) {
    const input = event.target, text = input.value.trim();
    if (text === "" || text === input.dataset.read) delete turned[input.dataset.knob]; else turned[input.dataset.knob] = text;
    edited(event);
  }

  const changesNow = () => ({ tubes: tubesNow(), items: turned, keep: byId("keep").value.split(",").filter(Boolean) });

  const inputs = () => [...document.querySelectorAll("#tube-rows [data-member]")];
  function tubesNow() {
    const tubes = {};
    for (const input of inputs()) (tubes[input.dataset.member] ??= {})[input.dataset.field] = input.value.trim();
    return tubes;
  }

  function mark({ member = null, field = "", item = null } = {}) {
    for (const input of knobInputs()) input.setAttribute("aria-invalid", String(item !== null && (!item ? input.dataset.knob in turned : input.dataset.knob === item)));
    for (const input of inputs()) {
      input.classList.toggle("changed", input.value.trim() !== asRead[input.dataset.member][input.dataset.field]);
      input.setAttribute("aria-invalid", String(input.dataset.member === member && (!field || input.dataset.field === field)));
    }
  }

  // --- several at once -------------------------------------------------------------------------------------------
  let trial = 0, tried = null, sorted = { column: null, up: true }, picked = null;

  async function tryThem(search) {
    const mine = ++trial, asked = session;
    complain("try-problem", ""); byId("tried-words").textContent = "Working ..."; document.body.classList.add("busy");
    for (const id of ["compare", "search"]) byId(id).disabled = true;
    try {
      const sent = { session, ...changesNow(), lines: byId("lines").value, search, firm: byId("firm").checked };
      const answer = await (await post("try", sent)).json();
      if (mine !== trial || asked !== session) return;
      tried = answer; sorted = { column: null, up: true }; picked = null;
      byId("tried").hidden = false; byId("tried-words").textContent = `${answer.words} The diamond is the bicycle on the bench. Click a row or a point to put it there instead.`;
      byId("tried-findings").innerHTML = answer.findings;
      for (const [id, at] of [["tried-across", 0], ["tried-up", Math.min(1, answer.columns.length - 1)]]) {
        byId(id).replaceChildren(...answer.columns.map((column, k) => new Option(titled(column), k, k === at, k === at)));
      }
      triedTable(); triedPlot();
    } catch (error) { if (mine === trial && asked === session) { complain("try-problem", error.message); byId("tried-words").textContent = ""; } }
    finally {
      for (const id of ["compare", "search"]) byId(id).disabled = false;
      document.body.classList.remove("busy");
    }
  }

  const titled = (column) => `${column.words}${column.unit ? `, ${column.unit}` : ""}`;

  function triedTable() {
    const head = document.createElement("tr");
    for (const [k, words] of [[-1, "variant"], ...tried.columns.map((column, k) => [k, titled(column)])]) {
      const cell = document.createElement("th"), button = document.createElement("button");
      cell.scope = "col";
      if (sorted.column === k) cell.setAttribute("aria-sort", sorted.up ? "ascending" : "descending");
      button.type = "button"; button.textContent = words;
      button.addEventListener("click", () => { sorted = { column: k, up: sorted.column === k ? !sorted.up : k < 1 }; triedTable(); });
      cell.append(button); head.append(cell);
    }
    document.querySelector("#tried-table thead").replaceChildren(head);
    const order = tried.rows.map((_, n) => n), { column, up } = sorted;
    if (column !== null) order.sort((a, b) => {
      const [x, y] = [a, b].map((n) => column < 0 ? tried.rows[n].name : tried.rows[n].values[column]);
      return (x === null) - (y === null) || (up ? 1 : -1) * (x < y ? -1 : x > y ? 1 : 0);
    });
    document.querySelector("#tried-table tbody").replaceChildren(...order.map((n) => {
      const row = document.createElement("tr"), held = tried.rows[n];
      for (const text of [held.name === "reference" ? "as on the bench" : held.name, ...held.cells]) row.append(Object.assign(document.createElement("td"), { textContent: text }));
      row.tabIndex = 0; row.classList.toggle("picked", n === picked);
      row.addEventListener("click", () => use(n));
      row.addEventListener("keydown", (event) => { if (event.key === "Enter") use(n); });
      return row;
    }));
  }

  function triedPlot() {
    const style = getComputedStyle(document.documentElement), colour = (name) => style.getPropertyValue(name).trim();
    const across = +byId("tried-across").value, up = +byId("tried-up").value, rows = tried.rows;
    const axis = (k) => ({ title: { text: titled(tried.columns[k]) }, color: colour("--ink"), gridcolor: colour("--line"), zeroline: false });
    Plotly.react("tried-plot", [{ type: "scatter", mode: "markers", x: rows.map((row) => row.values[across]), y: rows.map((row) => row.values[up]),
      text: rows.map((row) => row.name), hovertemplate: "%{text}<br>%{x:.4g}, %{y:.4g}<extra></extra>",
      marker: { size: rows.map((_, n) => n === picked ? 15 : 10), symbol: rows.map((_, n) => n ? "circle" : "diamond"), color: rows.map((_, n) => colour(n === picked ? "--bad" : n ? "--steel" : "--ink")) } }],
      { margin: { l: 65, r: 15, t: 10, b: 50 }, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", font: { color: colour("--ink"), size: 12 }, xaxis: axis(across), yaxis: axis(up), showlegend: false },
      { displayModeBar: false, responsive: true });
    const plot = byId("tried-plot");
    plot.removeAllListeners?.("plotly_click");
    plot.on("plotly_click", (event) => use(event.points[0].pointNumber));
  }

  // A variant becomes the bicycle on the bench, as one step that can be undone.
  function use(n) {
    picked = n;
    put(JSON.stringify({ ...tried.rows[n].use, keep: [] }));
    triedTable(); triedPlot();
    edited();
  }

  // --- shelf -----------------------------------------------------------------------------------------------------
  const shelf = async (sent) => (await post("shelf", sent)).json();

  function shelved(held) {
    byId("shelf").hidden = held.folder === null;
    byId("shelf-words").textContent = held.names.length ? `Fit sheets in ${held.folder}; any spreadsheet opens them.` : `Nothing in ${held.folder} yet.`;
    byId("shelf-list").replaceChildren(...held.names.map((name, k) => {
      const row = document.createElement("li"), tick = Object.assign(document.createElement("input"), { type: "checkbox", id: `shelf-${k}`, value: name });
      const label = Object.assign(document.createElement("label"), { htmlFor: tick.id, textContent: name });
      const open = Object.assign(document.createElement("button"), { type: "button", textContent: "Open" });
      open.setAttribute("aria-label", `Open ${name}`);
      open.addEventListener("click", () => fromShelf(name));
      row.append(tick, label, open);
      return row;
    }));
  }

  async function onShelf(sent, done) {
    complain("shelf-problem", "");
    try { done(await shelf(sent)); } catch (error) {
      if (error.item !== undefined || error.member !== undefined) wrong(error); else complain("shelf-problem", error.message);
    }
  }

  function fromShelf(name) {
    if (unsaved() && !confirm(LEAVE)) return;
    const mine = ++turn;
    onShelf({ do: "open", name }, (answer) => {
      if (mine !== turn) return;
      files = { sheet: { name } }; plainly = false;
      opened(answer, null);
    });
  }

  function keepIt() {
    const keeping = now;
    onShelf({ do: "keep", name: byId("keep-name").value, session, ...changesNow() }, (answer) => {
      shelved(answer); saved = keeping; byId("keep-name").value = ""; stand();
      byId("unsaved").textContent ||= `Kept as ${answer.kept}.`;
    });
  }

  function besideThem() {
    const names = [...document.querySelectorAll("#shelf-list input:checked")].map((tick) => tick.value);
    byId("beside-them").replaceChildren();
    onShelf({ do: "beside", names, session, ...changesNow() }, (answer) => { byId("beside-them").innerHTML = answer.beside; });
  }

  // --- undo, redo, what is not saved ---------------------------------------------------------------------------
  const snapshot = () => asRead ? JSON.stringify(changesNow()) : "";
  const unsaved = () => Boolean(asRead) && now !== saved;

  function put(text) {
    const state = JSON.parse(text);
    for (const input of inputs()) input.value = state.tubes[input.dataset.member][input.dataset.field];
    turned = state.items; byId("keep").value = state.keep.join(",");
    for (const input of knobInputs()) input.value = turned[input.dataset.knob] ?? input.dataset.read;
  }

  function stand() {
    byId("undo").disabled = !past.length; byId("redo").disabled = !ahead.length;
    byId("unsaved").textContent = unsaved() ? "Changes that are not saved." : "";
    if (asRead) mark();
    keep();
  }

  // Letters typed one after the other into one cell are one step.
  function edited(event) {
    const name = event?.target?.name ?? "", at = Date.now(), next = snapshot();
    if (next === now) return;
    if (name && typing.name === name && at - typing.at < 1200) { if (!past.length) past.push(now); } else past.push(now);
    typing = { name, at }; now = next; ahead = [];
    stand(); corrected();
  }

  function step(from, to) {
    if (!from.length) return;
    to.push(now); now = from.pop(); typing = { name: "", at: 0 };
    put(now); stand(); corrected();
  }

  function keys(event) {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || !asRead) return;
    const key = event.key.toLowerCase(), redo = key === "y" || (key === "z" && event.shiftKey);
    if (key !== "z" && key !== "y") return;
    event.preventDefault();
    if (redo) step(ahead, past); else step(past, ahead);
  }

  // A correction is solved at once; what takes longer, the cross-check and the modes, follows when the hand rests.
  function corrected() {
    clearTimeout(soon); clearTimeout(later);
    soon = setTimeout(async () => { if (await solve(false)) later = setTimeout(() => solve(true), 900); }, 200);
  }

  async function solve(full) {
    const mine = ++turn;
    try {
      const answer = await (await post("tubes", { session, ...changesNow(), full })).json();
      if (mine !== turn) return false;
      fine(); mark();
      if (!full) { delete answer.sections.vibration; byId("at-vibration").classList.add("stale"); }
      show(answer, false);
      byId("changes").classList.remove("stale");
      return true;
    } catch (error) {
      if (mine === turn) { wrong(error); byId("changes").classList.add("stale"); }
      return false;
    }
  }

  // A complaint stands where the cell is that caused it.
  function wrong(error) {
    fine();
    complain(error.item === undefined ? "tube-problem" : "knob-problem", error.message);
    if (error.item !== undefined) byId("knobs").open = true;
    mark(error);
  }
  function fine() { complain("tube-problem", ""); complain("knob-problem", ""); }

  async function save(path, extra) {
    fine(); say("Saving ...");
    const saving = now;
    let words = "";
    try {
      const response = await post(path, { session, ...changesNow(), ...extra }), link = document.createElement("a");
      link.download = /filename="([\w.-]+)"/.exec(response.headers.get("content-disposition"))?.[1] ?? "frame";
      link.href = URL.createObjectURL(await response.blob());
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 10000);
      if (path === "sheet") { saved = saving; words = response.headers.get("x-droptrail-note") ?? `Saved as ${link.download}.`; }
    } catch (error) { wrong(error); } finally { stand(); byId("unsaved").textContent ||= words; say(""); }
  }

  // Where drawing and sheet differ nothing is written for the builder: each item is asked, and the sheet's own stands first.
  function saveSheet() {
    const open = differences.filter((found) => found.writable);
    if (!open.length) return save("sheet", {});
    byId("which-rows").replaceChildren(...open.map((found) => {
      const set = document.createElement("fieldset");
      set.append(Object.assign(document.createElement("legend"), { textContent: found.label }));
      for (const [value, words] of [["sheet", `the sheet's ${found.held}`], ["drawing", `the drawing's ${found.drawn.toFixed(1)} ${found.unit}`]]) {
        const input = Object.assign(document.createElement("input"), { type: "radio", name: found.item, value, checked: (chosen[found.item] ?? "sheet") === value });
        const label = document.createElement("label");
        label.append(input, ` ${words}`); set.append(label);
      }
      return set;
    }));
    byId("which").returnValue = "";
    byId("which").showModal();
  }

  function answered() {
    if (byId("which").returnValue !== "save") return;
    for (const input of byId("which").querySelectorAll("input:checked")) chosen[input.name] = input.value;
    save("sheet", { from_drawing: Object.keys(chosen).filter((item) => chosen[item] === "drawing") });
  }

  // --- start ------------------------------------------------------------------------------------------------
  const drop = byId("drop");
  for (const kind of ["dragenter", "dragover"]) addEventListener(kind, (event) => { event.preventDefault(); drop.classList.add("over"); });
  addEventListener("dragleave", (event) => { if (!event.relatedTarget) drop.classList.remove("over"); });
  addEventListener("drop", (event) => { event.preventDefault(); drop.classList.remove("over"); take(event.dataTransfer.files); });
  for (const kind of ["drawing", "sheet"]) byId(kind).addEventListener("change", (event) => take(event.target.files));
  for (const id of ["units", "scale"]) byId(id).addEventListener("change", () => {
    if (Object.keys(offered).length && !(unsaved() && !confirm(LEAVE))) read(offered, plainly);
  });
  byId("plain").addEventListener("click", () => read(files, true));
  byId("tube-rows").addEventListener("input", edited);
  byId("knob-rows").addEventListener("input", knobTyped);
  byId("keep").addEventListener("change", edited);
  byId("compare").addEventListener("click", () => tryThem(false));
  byId("search").addEventListener("click", () => tryThem(true));
  for (const id of ["tried-up", "tried-across"]) byId(id).addEventListener("change", triedPlot);
  byId("undo").addEventListener("click", () => step(past, ahead));
  byId("redo").addEventListener("click", () => step(ahead, past));
  addEventListener("keydown", keys);
  byId("back").addEventListener("click", () => { for (const input of inputs()) input.value = asRead[input.dataset.member][input.dataset.field];
    turned = {}; byId("keep").value = "";
    for (const input of knobInputs()) input.value = input.dataset.read;
    edited();
  });
  byId("save-sheet").addEventListener("click", saveSheet);
  byId("which").addEventListener("close", answered);
  byId("save-csv").addEventListener("click", () => save("sheet", { kind: "csv" }));
  byId("save-xlsx").addEventListener("click", () => save("sheet", { kind: "xlsx" }));
  byId("save-report").addEventListener("click", () => save("report", {}));
  addEventListener("beforeunload", (event) => { if (unsaved()) event.preventDefault(); });
  byId("keep-it").addEventListener("click", keepIt);
  byId("beside").addEventListener("click", besideThem);
  onShelf({}, shelved);
  comeBack();
})();
