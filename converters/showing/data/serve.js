// The served page: files in by drop or choice, tubes corrected in the table, results put in place as they come.
"use strict";
(() => {
  const FIELDS = { outside_diameter: "outside diameter, mm", wall: "wall, mm", butts: "butts, mm", material: "material" };
  const SHEETS = /\.(csv|tsv|txt|xlsx)$/i;
  const byId = (id) => document.getElementById(id);
  const token = document.querySelector('meta[name="droptrail-token"]').content;
  const files = { drawing: null, sheet: null };
  let session = null, asRead = null, turn = 0, soon = null, later = null;

  // --- talking to the program -------------------------------------------------------------------------------
  async function post(path, body) {
    let response;
    try {
      response = await fetch(`/api/${path}`, { method: "POST", body: JSON.stringify(body),
        headers: { "content-type": "application/json", "x-droptrail-token": token } });
    } catch { throw new Error("droptrail does not answer; is it still running?"); }
    if (response.ok) return response;
    const held = await response.json().catch(() => ({ error: `refused (${response.status})` }));
    throw Object.assign(new Error(held.error), { member: held.member, field: held.field });
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
  function take(list) {
    const known = [...list].filter((file) => SHEETS.test(file.name) || /\.dxf$/i.test(file.name));
    if (list.length && !known.length) return complain("problem", "Only drawings (.dxf) and fit sheets (.csv, .xlsx) are understood here.");
    for (const file of known) files[SHEETS.test(file.name) ? "sheet" : "drawing"] = file;
    for (const kind of Object.keys(files)) byId(`${kind}-name`).textContent = files[kind]?.name ?? "none yet";
    if (known.length) read(false);
  }

  async function read(plain) {
    const mine = ++turn;
    complain("problem", ""); complain("tube-problem", ""); say("Reading ..."); document.body.classList.add("busy");
    try {
      const sent = { units: byId("units").value || null, scale: +byId("scale").value || null, plain };
      for (const kind of Object.keys(files)) if (files[kind]) sent[kind] = await encoded(files[kind]);
      const answer = await (await post("read", sent)).json();
      if (mine !== turn) return;
      session = answer.session; asRead = answer.tubes;
      if (asRead) table(asRead, answer.materials);
      show(answer, true);
      say(asRead ? "" : "The drawing was read. Drop the fit sheet too: it says which tubes the frame has.");
      byId("plain").hidden = Boolean(asRead);
    } catch (error) {
      if (mine === turn) { clear(); say(""); complain("problem", error.message); byId("plain").hidden = true; }
    } finally { if (mine === turn) document.body.classList.remove("busy"); }
  }

  // --- results ----------------------------------------------------------------------------------------------
  const places = () => document.querySelectorAll('[id^="at-"]');
  function clear() {
    session = null; asRead = null;
    byId("results").hidden = true; byId("title").textContent = "droptrail"; byId("source").textContent = "";
    places().forEach((place) => place.replaceChildren());
  }

  // Sections come as the program's own mark-up with every text of the files escaped; scripts in them would not run.
  function show(answer, fresh) {
    places().forEach((place) => {
      const html = answer.sections[place.id.slice(3)], open = place.querySelector("details")?.open;
      if (html === undefined && !fresh) return;
      place.innerHTML = html ?? "";
      if (open && place.querySelector("details")) place.querySelector("details").open = true;
      place.classList.remove("stale");
    });
    byId("results").hidden = !answer.tubes;
    byId("source").textContent = answer.source;
    byId("title").textContent = answer.name ?? "droptrail";
    if (!answer.tubes) return;
    byId("changes").innerHTML = answer.changes;
    window.droptrail.show(answer.drawing, fresh);
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

  const inputs = () => [...document.querySelectorAll("#tube-rows [data-member]")];
  function tubesNow() {
    const tubes = {};
    for (const input of inputs()) (tubes[input.dataset.member] ??= {})[input.dataset.field] = input.value.trim();
    return tubes;
  }

  function mark({ member = null, field = "" } = {}) {
    for (const input of inputs()) {
      input.classList.toggle("changed", input.value.trim() !== asRead[input.dataset.member][input.dataset.field]);
      input.setAttribute("aria-invalid", String(input.dataset.member === member && (!field || input.dataset.field === field)));
    }
  }

  // A correction is solved at once; what takes longer, the cross-check and the modes, follows when the hand rests.
  function corrected() {
    clearTimeout(soon); clearTimeout(later);
    soon = setTimeout(async () => { if (await solve(false)) later = setTimeout(() => solve(true), 900); }, 200);
  }

  async function solve(full) {
    const mine = ++turn;
    try {
      const answer = await (await post("tubes", { session, tubes: tubesNow(), full })).json();
      if (mine !== turn) return false;
      complain("tube-problem", ""); mark();
      if (!full) { delete answer.sections.vibration; byId("at-vibration").classList.add("stale"); }
      show(answer, false);
      byId("changes").classList.remove("stale");
      return true;
    } catch (error) {
      if (mine === turn) { complain("tube-problem", error.message); mark(error); byId("changes").classList.add("stale"); }
      return false;
    }
  }

  async function save(path, extra) {
    complain("tube-problem", ""); say("Saving ...");
    try {
      const response = await post(path, { session, tubes: tubesNow(), ...extra }), link = document.createElement("a");
      link.download = /filename="([\w.-]+)"/.exec(response.headers.get("content-disposition"))?.[1] ?? "frame";
      link.href = URL.createObjectURL(await response.blob());
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    } catch (error) { complain("tube-problem", error.message); mark(error); } finally { say(""); }
  }

  // --- start ------------------------------------------------------------------------------------------------
  const drop = byId("drop");
  for (const kind of ["dragenter", "dragover"]) addEventListener(kind, (event) => { event.preventDefault(); drop.classList.add("over"); });
  addEventListener("dragleave", (event) => { if (!event.relatedTarget) drop.classList.remove("over"); });
  addEventListener("drop", (event) => { event.preventDefault(); drop.classList.remove("over"); take(event.dataTransfer.files); });
  for (const kind of ["drawing", "sheet"]) byId(kind).addEventListener("change", (event) => take(event.target.files));
  for (const id of ["units", "scale"]) byId(id).addEventListener("change", () => (files.drawing || files.sheet) && read(false));
  byId("plain").addEventListener("click", () => read(true));
  byId("tube-rows").addEventListener("input", corrected);
  byId("back").addEventListener("click", () => { for (const input of inputs()) input.value = asRead[input.dataset.member][input.dataset.field]; corrected(); });
  byId("save-csv").addEventListener("click", () => save("sheet", { kind: "csv" }));
  byId("save-xlsx").addEventListener("click", () => save("sheet", { kind: "xlsx" }));
  byId("save-report").addEventListener("click", () => save("report", {}));
})();
