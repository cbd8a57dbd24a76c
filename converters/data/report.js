// Draws the frame in space: tubes with their diameters, deflected by the chosen case or mode.
"use strict";
(() => {
  const SIDES = 10;
  const byId = (id) => document.getElementById(id);
  let facts, scene, drawn = false, timer = null, phase = 0;

  const dark = () => matchMedia("(prefers-color-scheme: dark)").matches;
  const sub = (a, b) => a.map((v, k) => v - b[k]);
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const unit = (a) => { const s = Math.hypot(...a) || 1; return a.map((v) => v / s); };

  // Vertices of every element as a ring of points at both ends, and the triangles between them.
  function tubes(moved) {
    const x = [], y = [], z = [], i = [], j = [], k = [];
    for (const [a, b, od] of scene.elements) {
      const axis = unit(sub(scene.nodes[b], scene.nodes[a]));
      const side = unit(cross(axis, Math.abs(axis[1]) < 0.9 ? [0, 1, 0] : [1, 0, 0]));
      const up = cross(axis, side), start = x.length;
      for (const end of [moved[a], moved[b]]) for (let s = 0; s < SIDES; s++) {
        const c = (Math.cos((2 * Math.PI * s) / SIDES) * od) / 2, d = (Math.sin((2 * Math.PI * s) / SIDES) * od) / 2;
        x.push(end[0] + c * side[0] + d * up[0]); y.push(end[1] + c * side[1] + d * up[1]); z.push(end[2] + c * side[2] + d * up[2]);
      }
      for (let s = 0; s < SIDES; s++) {
        const t = (s + 1) % SIDES, p = start + s, q = start + t;
        i.push(p, q); j.push(q, q + SIDES); k.push(p + SIDES, p + SIDES);
      }
    }
    return { x, y, z, i, j, k };
  }

  const chosen = () => {
    const value = byId("shape").value;
    return value.startsWith("mode:") ? { mode: facts.modes[+value.slice(5)] } : { load: facts.cases[+value.slice(5)] };
  };
  const motion = (pick) => (pick.mode ? pick.mode.u : pick.load.u);
  const factor = (pick) => (+byId("magnify").value / 50) * pickScale(pick);
  // At the middle of the slider the largest movement is drawn as a twentieth of the wheelbase.
  function pickScale(pick) {
    const size = Math.max(...motion(pick).map((u) => Math.hypot(...u))) || 1;
    const xs = scene.nodes.map((n) => n[0]);
    return (0.05 * (Math.max(...xs) - Math.min(...xs))) / size;
  }
  const movedNodes = (pick, times) => scene.nodes.map((n, k) => n.map((v, d) => v + times * motion(pick)[k][d]));

  function values(pick) {
    const kind = byId("colour").value;
    if (kind === "tube") return scene.elements.map((e) => e[3]);
    if (!pick.mode && kind !== "movement") return (pick.load.colours || {})[kind];
    const size = motion(pick).map((u) => Math.hypot(...u));
    return scene.elements.map(([a, b]) => [size[a], size[b]]);
  }

  function intensity(pick) {
    const per = values(pick) || scene.elements.map(() => 0), out = [];
    for (const v of per) for (const end of Array.isArray(v) ? v : [v, v]) for (let s = 0; s < SIDES; s++) out.push(end);
    return out;
  }

  const UNITS = { movement: "mm", stress: "MPa", energy: "% of total" };
  function traces(pick, times) {
    const ink = dark() ? "#e7e5df" : "#22262a", kind = byId("colour").value;
    const rest = lines(scene.nodes, dark() ? "#70787e" : "#9aa0a5");
    const mesh = { type: "mesh3d", ...tubes(movedNodes(pick, times)), intensity: intensity(pick), colorscale: "Cividis", reversescale: !dark(),
      showscale: kind !== "tube", hoverinfo: "skip", flatshading: false, lighting: { ambient: 0.65, diffuse: 0.6, specular: 0.15 },
      colorbar: { title: { text: pick.mode ? "relative" : UNITS[kind] || "", font: { color: ink } }, thickness: 12, len: 0.6, tickfont: { color: ink } } };
    return pick.mode ? [rest, mesh, wheels()] : [rest, mesh, wheels(), ...loads(pick.load, ink), held(pick.load, ink)];
  }

  function lines(nodes, color) {
    const x = [], y = [], z = [];
    for (const [a, b] of scene.elements) { x.push(nodes[a][0], nodes[b][0], null); y.push(nodes[a][1], nodes[b][1], null); z.push(nodes[a][2], nodes[b][2], null); }
    return { type: "scatter3d", mode: "lines", x, y, z, line: { color, width: 2 }, hoverinfo: "skip", showlegend: false };
  }

  function loads(load, ink) {
    const length = 170, out = [];
    for (const kind of ["force", "moment"]) {
      const set = load.arrows.filter((a) => a.kind === kind);
      if (!set.length) continue;
      const tail = set.map((a) => a.at.map((v, d) => v - a.direction[d] * length)), x = [], y = [], z = [];
      const color = kind === "force" ? "#c0392b" : "#7d3c98";
      set.forEach((a, n) => { x.push(tail[n][0], a.at[0], null); y.push(tail[n][1], a.at[1], null); z.push(tail[n][2], a.at[2], null); });
      out.push({ type: "scatter3d", mode: "lines", x, y, z, line: { color, width: 6 }, hoverinfo: "skip", showlegend: false });
      out.push({ type: "mesh3d", ...heads(set), color, hoverinfo: "skip", flatshading: true, lighting: { ambient: 0.8, diffuse: 0.4 } });
      out.push({ type: "scatter3d", mode: "text", x: tail.map((t) => t[0]), y: tail.map((t) => t[1] + 18), z: tail.map((t) => t[2]),
        text: set.map((a) => a.words), textfont: { color: ink, size: 16 }, hoverinfo: "skip", showlegend: false });
    }
    return out;
  }

  // Tyre circles where the wheels stand undeflected: they make the tubes readable as a bicycle.
  function wheels() {
    const x = [], y = [], z = [];
    for (const [cx, cy, r] of scene.wheels || []) {
      for (let s = 0; s <= 48; s++) { const t = (2 * Math.PI * s) / 48; x.push(cx + r * Math.cos(t)); y.push(cy + r * Math.sin(t)); z.push(0); }
      x.push(null); y.push(null); z.push(null);
    }
    return { type: "scatter3d", mode: "lines", x, y, z, line: { color: dark() ? "#4b5359" : "#c9c4b8", width: 3 }, hoverinfo: "skip", showlegend: false };
  }

  // Arrow heads as small cones, tip at the loaded point.
  function heads(set) {
    const x = [], y = [], z = [], i = [], j = [], k = [], high = 34, wide = 11;
    for (const a of set) {
      const side = unit(cross(a.direction, Math.abs(a.direction[1]) < 0.9 ? [0, 1, 0] : [1, 0, 0])), up = cross(a.direction, side), tip = x.length;
      x.push(a.at[0]); y.push(a.at[1]); z.push(a.at[2]);
      for (let s = 0; s < SIDES; s++) {
        const c = wide * Math.cos((2 * Math.PI * s) / SIDES), d = wide * Math.sin((2 * Math.PI * s) / SIDES);
        const p = a.at.map((v, n) => v - high * a.direction[n] + c * side[n] + d * up[n]);
        x.push(p[0]); y.push(p[1]); z.push(p[2]);
        i.push(tip); j.push(tip + 1 + s); k.push(tip + 1 + ((s + 1) % SIDES));
      }
    }
    return { x, y, z, i, j, k };
  }

  const held = (load) => ({ type: "scatter3d", mode: "markers", x: load.supports.map((s) => s.at[0]), y: load.supports.map((s) => s.at[1]),
    z: load.supports.map((s) => s.at[2]), text: load.supports.map((s) => s.words), hoverinfo: "text", showlegend: false,
    marker: { symbol: "diamond", size: 7, color: "#1f8a70", line: { color: "#000", width: 1 } } });

  const axis = () => ({ visible: false, showspikes: false });
  function layout() {
    return { margin: { l: 0, r: 0, t: 0, b: 0 }, paper_bgcolor: "rgba(0,0,0,0)", showlegend: false, uirevision: "keep",
      scene: { aspectmode: "data", xaxis: axis(), yaxis: axis(), zaxis: axis(), dragmode: "orbit",
        camera: { up: { x: 0, y: 1, z: 0 }, eye: { x: 0.36, y: 0.28, z: 0.8 }, projection: { type: "orthographic" } } } };
  }

  function draw(times) {
    const pick = chosen(), scale = factor(pick);
    Plotly.react("view", traces(pick, times === undefined ? scale : times), layout(), { displaylogo: false, responsive: true, scrollZoom: false,
      modeBarButtonsToRemove: ["tableRotation", "resetCameraLastSave3d"] });
    byId("magnified").textContent = scale >= 1 ? `drawn ${scale.toPrecision(2)} times larger than it is` : `drawn at ${scale.toPrecision(2)} of its size`;
    if (pick.mode) byId("magnified").textContent = "a mode has a shape but no size";
    byId("case-notes").textContent = pick.mode ? `${pick.mode.hz.toFixed(1)} Hz: ${pick.mode.words}` : pick.load.notes;
    byId("play").hidden = !pick.mode;
    if (!pick.mode) stop();
    drawn = true;
  }

  function stop() { clearInterval(timer); timer = null; byId("play").textContent = "Play"; }
  function play() {
    if (timer) { stop(); return draw(); }
    byId("play").textContent = "Stop";
    timer = setInterval(() => {
      phase += 0.35;
      const pick = chosen(), moved = tubes(movedNodes(pick, factor(pick) * Math.sin(phase)));
      Plotly.restyle("view", { x: [moved.x], y: [moved.y], z: [moved.z] }, [1]);
    }, 70);
  }

  function fill() {
    const shape = byId("shape"), keep = shape.value;
    shape.replaceChildren();
    facts.cases.forEach((c, k) => shape.add(new Option(c.title, `case:${k}`)));
    (facts.modes || []).forEach((m, k) => shape.add(new Option(`Mode ${k + 1}: ${m.hz.toFixed(1)} Hz, ${m.words}`, `mode:${k}`)));
    if ([...shape.options].some((o) => o.value === keep)) shape.value = keep;
  }

  function show(next) {
    facts = next; scene = facts.scene;
    if (!scene) return;
    fill();
    try { draw(); } catch (error) { byId("view").textContent = "This browser cannot draw in 3-D; the still picture below shows the frame."; }
  }

  for (const id of ["shape", "magnify", "colour"]) addEventListener("DOMContentLoaded", () => byId(id)?.addEventListener("input", () => draw()));
  addEventListener("DOMContentLoaded", () => {
    byId("play")?.addEventListener("click", play);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => drawn && draw());
    const held = byId("facts");
    if (held) show(JSON.parse(held.textContent));
  });
  window.droptrail = { show, facts: () => facts };
})();
