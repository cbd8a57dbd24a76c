// Draws the frame in space: tubes in proportion, moved by the chosen load case or mode, loads and supports beside.
"use strict";
(() => {
  const SIDES = 12;
  const EYES = { corner: [0.5, 0.3, 0.75], side: [0, 0, 1], front: [1, 0, 0], top: [0, 1, 0.001], rear: [-0.75, 0.45, 0.55] };
  const REACH = 1.3; // of the frame's size: how far the axes go from the middle
  const FILL = 0.96; // share of the view that the frame takes
  const byId = (id) => document.getElementById(id);
  let facts, scene, rings, centre, started = false, timer = null, phase = 0, sizes = [], able = null, wanted = ""; // `wanted`: what was chosen, though it may be away for a moment

  // --- small mathematics ------------------------------------------------------------------------------------
  const add = (a, b, times = 1) => a.map((v, k) => v + times * b[k]);
  const dot = (a, b) => a.reduce((sum, v, k) => sum + v * b[k], 0);
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const unit = (a) => { const s = Math.hypot(...a) || 1; return a.map((v) => v / s); };
  const digits = (v) => (v === 0 ? "0" : Math.abs(v) >= 1000 ? v.toFixed(0) : Math.abs(v) < 1e-4 ? v.toExponential(1) : String(+v.toPrecision(3)));
  const plain = (text) => String(text).replace(/&/g, "&amp;").replace(/</g, "&lt;");
  const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

  // --- what is chosen ---------------------------------------------------------------------------------------
  function chosen() {
    const [kind, number] = byId("shape").value.split(":");
    return kind === "mode" ? facts.modes[+number] : kind === "wobble" ? wobbling(+number, speedAt()) : facts.cases[+number];
  }
  const isMode = (pick) => pick.hz !== undefined;
  const isWobble = (pick) => pick.lines !== undefined;
  const largest = (pick) => Math.max(...pick.u.map((u) => Math.hypot(...u)));
  // Positions of the slider: nothing, true size, and sizes about the one that suits the eye.
  function factors(pick) {
    if (!largest(pick)) return [0, 1];
    const fit = pick.times, steps = [0, 0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4].map((s) => s * fit);
    return isMode(pick) || fit <= 1 ? steps : [0, 1, ...steps.slice(2)];
  }
  const times = () => sizes[+byId("magnify").value] ?? 0;

  // --- wobble -----------------------------------------------------------------------------------------------
  // Places as sums over the joints of the wobble model: `u` when the steering is at its largest, `w` a quarter of a period before.
  function summed(by, shape, count) {
    const u = Array.from({ length: count }, () => [0, 0, 0]), w = Array.from({ length: count }, () => [0, 0, 0]);
    by.forEach((places, joint) => {
      const [real, imaginary] = shape[joint];
      if (places.length) places.forEach((v, k) => { u[(k / 3) | 0][k % 3] += v * real; w[(k / 3) | 0][k % 3] += v * imaginary; });
    });
    return { u, w };
  }

  const speedAt = () => +byId("speed").value;
  let remembered = {};
  function wobbling(hold, k) {
    const name = `${hold}:${k}`;
    if (remembered[name]) return remembered[name];
    const held = facts.wobble.holds[hold], shape = held.shapes[k] ?? facts.wobble.by.map(() => [0, 0]), root = held.followed[k];
    const moved = summed(facts.wobble.by, shape, scene.nodes.length);
    const lines = facts.wobble.lines.filter((line) => held.arms || line.kind !== "arm").map((line) => ({ ...line, ...summed(line.by, shape, line.places.length) }));
    return (remembered[name] = { ...moved, lines, hz: root ? root[1] : 0, title: held.words[k], times: facts.wobble.times, colours: {},
      size: moved.u.map((u, n) => Math.hypot(...u, ...moved.w[n])) });
  }

  // Where the places are at a phase of the swing.
  const swung = ({ u, w }, at) => u.map((v, k) => v.map((value, d) => value * Math.cos(at) - w[k][d] * Math.sin(at)));
  const strokes = (pick, wheel, factor, at) => pick.lines.filter((line) => (line.kind === "wheel") === wheel).map((line) => { const moved = swung(line, at); return line.places.map((p, k) => add(p, moved[k], factor)); });
  const swinging = (pick, factor, at) => [polyline(strokes(pick, true, factor, at), "wheel", 3), polyline(strokes(pick, false, factor, at), "steel", 4)];

  // Roots over speed: to the right of the line it grows, upwards it is faster.
  function locus() {
    const held = facts.wobble, k = speedAt(), style = (name) => colour(name);
    const paths = held.holds.map((hold, n) => ({ type: "scatter", mode: "lines", name: hold.name, x: hold.followed.map((r) => r?.[0] ?? null), y: hold.followed.map((r) => r?.[1] ?? null),
      text: held.speeds.map((v) => `${v} m/s`), hovertemplate: "%{text}: %{y:.2f} Hz<extra></extra>", line: { color: style(n ? "steel" : "bad"), width: 3, dash: n ? "solid" : "dash" } }));
    const every = held.holds[holdNow()].roots, others = every[k], marks = held.holds.map((hold) => hold.followed[k]);
    const far = Math.max(1, ...held.holds.flatMap((hold) => hold.followed.map((r) => r?.[0] ?? 0)));
    const dots = every.flat();
    Plotly.react("locus", [{ type: "scatter", mode: "markers", name: "all roots at every speed", x: dots.map((r) => r[0]), y: dots.map((r) => r[1]), hoverinfo: "skip", marker: { size: 3, color: style("line") } }, ...paths,
      { type: "scatter", mode: "markers", name: "all roots at this speed", x: others.map((r) => r[0]), y: others.map((r) => r[1]), hovertemplate: "%{y:.2f} Hz<extra></extra>", marker: { size: 7, color: style("rest") } },
      { type: "scatter", mode: "markers", name: "the wobble at this speed", x: marks.map((r) => r?.[0] ?? null), y: marks.map((r) => r?.[1] ?? null), hovertemplate: "%{y:.2f} Hz<extra></extra>",
        marker: { size: marks.map((_, n) => n === holdNow() ? 16 : 10), symbol: "diamond", color: marks.map((_, n) => style(n ? "steel" : "bad")), line: { color: style("card"), width: 1.5 } } }],
    { margin: { l: 45, r: 10, t: 8, b: 42 }, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", font: { color: style("ink"), size: 12 }, legend: { orientation: "h", yanchor: "top", y: byId("locus").clientWidth < 500 ? -0.42 : -0.28, x: 0 },
      xaxis: { title: { text: "growth, 1/s: grows to the right of the line" }, range: [-6, far + 0.5], gridcolor: style("line"), zeroline: true, zerolinecolor: style("ink"), zerolinewidth: 2 },
      yaxis: { title: { text: "Hz" }, range: [0, 8], gridcolor: style("line"), zeroline: false } }, { displayModeBar: false, responsive: true });
  }

  const holdNow = () => +(/^wobble:(\d+)$/.exec(byId("shape").value)?.[1] ?? 0);

  function panel() {
    byId("wobble").hidden = !facts.wobble;
    if (!facts.wobble) return;
    const k = speedAt(), v = facts.wobble.speeds[k], words = facts.wobble.holds[holdNow()].words[k];
    byId("speed-words").textContent = `${v} m/s, ${(3.6 * v).toFixed(0)} km/h`;
    byId("speed").setAttribute("aria-valuetext", byId("speed-words").textContent);
    byId("wobble-words").textContent = words;
    locus();
  }

  // The slider shows the wobble it is about.
  function speedMoved() {
    if (byId("shape").value.startsWith("wobble:")) { panel(); return draw(); }
    byId("shape").value = wanted = "wobble:0"; stop(); reshape(true);
  }

  // --- tubes ------------------------------------------------------------------------------------------------
  // A ring of points at both ends of every element: node number and offset; worked out once for each scene.
  function prepare() {
    rings = { node: [], offset: [], element: [], i: [], j: [], k: [] };
    scene.elements.forEach(([a, b, high, wide, yx, yy, yz], number) => {
      const y = [yx, yy, yz], z = cross(unit(add(scene.nodes[b], scene.nodes[a], -1)), y), start = rings.node.length;
      for (const node of [a, b]) for (let s = 0; s < SIDES; s++) {
        const c = high * Math.cos((2 * Math.PI * s) / SIDES), d = wide * Math.sin((2 * Math.PI * s) / SIDES);
        rings.node.push(node); rings.element.push(number);
        rings.offset.push(y.map((v, n) => c * v + d * z[n]));
      }
      for (let s = 0; s < SIDES; s++) {
        const p = start + s, q = start + ((s + 1) % SIDES);
        rings.i.push(p, q); rings.j.push(q, q + SIDES); rings.k.push(p + SIDES, p + SIDES);
      }
    });
  }

  function surface(pick, factor, at = 0) {
    const u = isWobble(pick) ? swung(pick, at) : pick.u, moved = scene.nodes.map((n, k) => add(n, u[k], factor)), x = [], y = [], z = [];
    rings.node.forEach((node, k) => {
      const p = moved[node], o = rings.offset[k];
      x.push(p[0] + o[0]); y.push(p[1] + o[1]); z.push(p[2] + o[2]);
    });
    return { x, y, z };
  }

  // Value at every node's end of every element, with its name and unit.
  function painted(pick) {
    const kind = byId("colour").value, held = pick.colours[kind];
    if (held) return { title: held.title, unit: held.unit, at: (element) => held.values[element] };
    const size = pick.size ?? pick.u.map((u) => Math.hypot(...u));
    return { title: "movement", unit: isMode(pick) ? "of the largest" : scene.length_unit, top: isMode(pick) ? "largest" : null, at: (element, node) => size[node] };
  }

  function tubes(pick, factor) {
    const paint = painted(pick), intensity = rings.node.map((node, k) => paint.at(rings.element[k], node));
    const top = Math.max(...intensity) || 1;
    legend(paint, top);
    const text = rings.node.map((node, k) => `${plain(scene.members[scene.elements[rings.element[k]][7]])}<br>${digits(intensity[k])} ${plain(paint.unit)}`);
    return { type: "mesh3d", ...surface(pick, factor, phase), i: rings.i, j: rings.j, k: rings.k, intensity, cmin: 0, cmax: top,
      colorscale: scene.scale.map((c, n, all) => [n / (all.length - 1), c]), showscale: false, text, hovertemplate: "%{text}<extra></extra>",
      flatshading: false, lighting: { ambient: 0.7, diffuse: 0.55, specular: 0.12, roughness: 0.7 }, lightposition: { x: 1000, y: 3000, z: 4000 } };
  }

  function legend(paint, top) {
    byId("legend-title").textContent = paint.title;
    byId("legend-low").textContent = "0";
    byId("legend-high").textContent = paint.top ?? `${digits(top)} ${paint.unit}`.trim();
    byId("legend-bar").style.background = `linear-gradient(to right, ${scene.scale.join(",")})`;
  }

  // --- lines, loads, supports -------------------------------------------------------------------------------
  const polyline = (parts, name, width) => {
    const [x, y, z] = [0, 1, 2].map((d) => parts.flatMap((part) => [...part.map((p) => p[d]), null]));
    return { type: "scatter3d", mode: "lines", x, y, z, line: { color: colour(name), width }, hoverinfo: "skip", showlegend: false };
  };
  const asBuilt = () => polyline(scene.elements.map((e) => [scene.nodes[e[0]], scene.nodes[e[1]]]), "rest", 2.5);
  const circle = ([x, y, r]) => Array.from({ length: 61 }, (_, s) => [x + r * Math.cos((Math.PI * s) / 30), y + r * Math.sin((Math.PI * s) / 30), 0]);
  const wheels = () => polyline(scene.wheels.map(circle), "wheel", 3);

  const narrow = () => byId("view").clientWidth < 600;
  const shifted = (point, node, pick, factor) => (node < 0 ? point : add(point, pick.u[node], factor));

  // Arrows ride on the moved frame.
  function loads(pick, factor) {
    const moved = pick.arrows.map((a) => ({ kind: a.kind, tail: shifted(a.tail, a.node, pick, factor), tip: shifted(a.tip, a.node, pick, factor) }));
    return ["force", "moment"].map((kind) => [kind, moved.filter((a) => a.kind === kind)]).filter(([, set]) => set.length).flatMap(([kind, set]) => [
      polyline(set.map((a) => [a.tail, a.tip]), kind, narrow() ? 4 : 7),
      { type: "mesh3d", ...heads(set), color: colour(kind), hoverinfo: "skip", flatshading: true, lighting: { ambient: 0.9, diffuse: 0.3 } }]);
  }

  // Arrow heads as small cones, tip at the loaded tube.
  function heads(set) {
    const out = { x: [], y: [], z: [], i: [], j: [], k: [] }, high = scene.span / 42, wide = scene.span / 130;
    const put = (p) => { out.x.push(p[0]); out.y.push(p[1]); out.z.push(p[2]); };
    for (const { tail, tip } of set) {
      const way = unit(add(tip, tail, -1)), side = unit(cross(way, Math.abs(way[1]) < 0.9 ? [0, 1, 0] : [1, 0, 0])), up = cross(way, side);
      const first = out.x.length, foot = add(tip, way, -high);
      put(tip);
      for (let s = 0; s < SIDES; s++) {
        const turn = (2 * Math.PI * s) / SIDES;
        put(add(add(foot, side, wide * Math.cos(turn)), up, wide * Math.sin(turn)));
        out.i.push(first); out.j.push(first + 1 + s); out.k.push(first + 1 + ((s + 1) % SIDES));
      }
    }
    return out;
  }

  const held = (pick) => ({ type: "scatter3d", mode: "markers", x: pick.supports.map((s) => s.at[0]), y: pick.supports.map((s) => s.at[1]),
    z: pick.supports.map((s) => s.at[2]), text: pick.supports.map((s) => plain(s.words)), hovertemplate: "%{text}<extra></extra>", showlegend: false,
    marker: { symbol: "diamond", size: narrow() ? 5 : 7, color: colour("support"), line: { color: colour("card"), width: 1 } } });

  // Labels lie over the picture, beyond the free end of their arrow, so no tube hides them; one that would meet another gives way.
  const LETTER = 8.6, WORDS_HIGH = 24; // pixels
  function labels(pick, factor) {
    const [right, up] = screen(Object.values(eyeNow())), pixels = (layoutNow.aspectratio.x / (2 * REACH * scene.span)) * (byId("view").clientHeight / 2), taken = [];
    return (pick.labels || []).map((l) => {
      const place = shifted(l.at, l.node, pick, factor), [x, y, z] = place, across = dot(l.way, right), high = dot(l.way, up), seen = Math.hypot(across, high);
      const [dx, dy] = seen > 0.15 ? [across / seen, high / seen] : [0, 1], text = `<b>${plain(l.words)}</b>`;
      const xshift = dx * (12 + 4 * l.words.length), half = (LETTER * l.words.length + 8) / 2, middle = dot(place, right) * pixels + xshift;
      const level = free(taken, middle - half, middle + half, dot(place, up) * pixels + dy * 13, dy < -0.3 ? -1 : 1);
      taken.push([middle - half, middle + half, level]);
      return { x, y, z, text, showarrow: false, xshift, yshift: level - dot(place, up) * pixels, font: { color: colour("ink"), size: 13 },
        bgcolor: colour("card"), opacity: 0.9, borderpad: 2 };
    });
  }

  // The height nearest above (or below, `way` -1) at which words between left and right meet none of those that stand.
  function free(taken, left, right, level, way) {
    const met = () => taken.find(([from, to, at]) => left < to && right > from && Math.abs(at - level) < WORDS_HIGH - 0.5);
    for (let other = met(); other; other = met()) level = other[2] + way * WORDS_HIGH;
    return level;
  }

  // --- the view ---------------------------------------------------------------------------------------------
  // Unit vectors to the right, up and out of the screen for an eye in that direction.
  function screen(eye) { const out = unit(eye), right = unit(cross([0, 1, 0], out)); return [right, cross(out, right), out]; }
  const eyeNow = () => layoutNow.camera.eye;

  // Scale and centre that make everything fill the view from this eye: an orthographic view is 2 high in its own units.
  function fitted(eye) {
    const [right, up, out] = screen(eye), box = byId("view").getBoundingClientRect();
    const rider = isWobble(chosen()) ? chosen().lines.flatMap((line) => line.places) : [];
    const points = [...scene.nodes, ...rider, ...scene.wheels.flatMap(circle), ...facts.cases.flatMap((c) => c.arrows.flatMap((a) => [a.tail, a.tip]))];
    const span = (way) => { const at = points.map((p) => dot(p, way)); return [Math.min(...at), Math.max(...at)]; };
    const [across, high] = [span(right), span(up)], margin = 48; // pixels for labels
    const wide = (2 * (box.width - margin)) / box.height, tall = (2 * (box.height - margin)) / box.height;
    const size = FILL * Math.min(wide / (across[1] - across[0] || 1), tall / (high[1] - high[0] || 1));
    centre = add(add([0, 0, 0], right, (across[0] + across[1]) / 2), up, (high[0] + high[1]) / 2);
    const deep = span(out);
    centre = add(centre, out, (deep[0] + deep[1]) / 2);
    return size;
  }

  function sceneLayout(eye) {
    const size = fitted(eye), reach = REACH * scene.span, ratio = 2 * reach * size;
    const axis = (d) => ({ visible: false, showspikes: false, range: [centre[d] - reach, centre[d] + reach] });
    return { aspectmode: "manual", aspectratio: { x: ratio, y: ratio, z: ratio }, xaxis: axis(0), yaxis: axis(1), zaxis: axis(2), dragmode: "orbit",
      camera: { up: { x: 0, y: 1, z: 0 }, center: { x: 0, y: 0, z: 0 }, eye: camera(eye), projection: { type: "orthographic" } } };
  }
  // The eye stands outside of everything drawn; in an orthographic view its distance changes nothing else.
  const camera = (eye) => { const [x, y, z] = unit(eye).map((v) => 9 * v); return { x, y, z }; };

  let layoutNow = null;
  function layout(fresh) {
    if (fresh || !layoutNow) layoutNow = sceneLayout(EYES[byId("seen").value]);
    else if (byId("view")._fullLayout) layoutNow = { ...layoutNow, camera: byId("view")._fullLayout.scene._scene.getCamera() };
    return { margin: { l: 0, r: 0, t: 0, b: 0 }, paper_bgcolor: "rgba(0,0,0,0)", showlegend: false, hoverlabel: { align: "left" },
      scene: { ...layoutNow, annotations: isMode(chosen()) ? [] : labels(chosen(), times()) } };
  }

  function draw(fresh = false) {
    const pick = chosen(), factor = times();
    const rest = isWobble(pick) ? swinging(pick, factor, phase) : [wheels(), ...(isMode(pick) ? [] : [...loads(pick, factor), held(pick)])];
    const traces = [asBuilt(), tubes(pick, factor), ...rest];
    Plotly.react("view", traces, layout(fresh), { displayModeBar: false, scrollZoom: false });
    byId("magnified").textContent = isWobble(pick) ? `steering ${(factor * 57.3).toFixed(0)}° to either side` : isMode(pick) ? "(no true size)" : factor ? `${digits(factor)} times larger` : "not at all";
    byId("magnify").setAttribute("aria-valuetext", byId("magnified").textContent);
    byId("case-notes").textContent = isWobble(pick) ? "Drawn in slow motion and far larger than it is; what it would be on the road stands below." : isMode(pick) ? `${pick.hz.toFixed(2)} Hz: ${pick.title}` : pick.notes;
    // turned by hand, other labels meet
    if (!started) byId("view").on("plotly_relayout", () => draw());
    started = true;
  }

  // A new shape: its own colours and its own sizes on the slider, which stays where it is when `keep` says so.
  function reshape(fresh, keepSize = false) {
    const pick = chosen(), select = byId("colour"), keep = select.value;
    select.replaceChildren(...["movement", ...Object.keys(pick.colours)].map((name) => new Option(name)));
    select.value = [...select.options].some((o) => o.value === keep) ? keep : "movement";
    sizes = factors(pick);
    byId("magnify").max = sizes.length - 1;
    if (!keepSize) byId("magnify").value = sizes.length > 2 ? sizes.indexOf(sizes.find((s) => s >= pick.times * 0.999)) : 0;
    panel();
    draw(fresh);
  }

  // --- moving -----------------------------------------------------------------------------------------------
  function stop() { cancelAnimationFrame(timer); timer = null; byId("play").textContent = "Move"; byId("play").setAttribute("aria-pressed", "false"); }
  function play() {
    if (timer) { stop(); return draw(); }
    byId("play").textContent = "Stop"; byId("play").setAttribute("aria-pressed", "true");
    let last = 0;
    const step = (now) => {
      timer = requestAnimationFrame(step);
      if (now - last < 65) return;
      last = now; phase += 0.3;
      const pick = chosen(), swing = isWobble(pick) ? 1 : isMode(pick) ? Math.sin(phase) : (1 - Math.cos(phase)) / 2, moved = surface(pick, times() * swing, phase);
      const all = isWobble(pick) ? [moved, ...swinging(pick, times(), phase)] : [moved];
      Plotly.restyle("view", { x: all.map((t) => t.x), y: all.map((t) => t.y), z: all.map((t) => t.z) }, all.map((_, k) => k + 1));
    };
    timer = requestAnimationFrame(step);
  }

  // Arrow keys turn the frame, plus and minus zoom.
  function keys(event) {
    const turn = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key], zoom = { "+": 1.1, "=": 1.1, "-": 1 / 1.1 }[event.key];
    if ((!turn && !zoom) || !started || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const { eye } = byId("view")._fullLayout.scene._scene.getCamera();
    if (zoom) { const r = zoom * layoutNow.aspectratio.x; layoutNow.aspectratio = { x: r, y: r, z: r }; return draw(); }
    const far = Math.hypot(eye.x, eye.y, eye.z), side = Math.atan2(eye.x, eye.z) + turn[0] * 0.14;
    const high = Math.min(1.5, Math.max(-1.5, Math.asin(eye.y / far) + turn[1] * 0.14));
    layoutNow.camera = { ...layoutNow.camera, up: { x: 0, y: 1, z: 0 }, eye: { x: far * Math.cos(high) * Math.sin(side), y: far * Math.sin(high), z: far * Math.cos(high) * Math.cos(side) } };
    Plotly.relayout("view", { "scene.camera": layoutNow.camera });
  }

  // --- what is folded away ---
  // A link to a part opens it; on paper a browser that heeds no style of folded parts gets them all open.
  function unfold(name) {
    const fold = byId(name)?.querySelector(":scope > .fold");
    if (fold) fold.open = true;
  }
  let opened = [];
  addEventListener("beforeprint", () => { opened = [...document.querySelectorAll(".fold:not([open])")]; opened.forEach((fold) => { fold.open = true; }); });
  addEventListener("afterprint", () => { opened.forEach((fold) => { fold.open = false; }); });
  addEventListener("hashchange", () => unfold(location.hash.slice(1)));
  addEventListener("click", (event) => { const to = event.target.closest?.('a[href^="#"]'); if (to) unfold(to.hash.slice(1)); });

  // --- start ------------------------------------------------------------------------------------------------
  function fill() {
    const shape = byId("shape");
    const group = (label, options) => { const g = document.createElement("optgroup"); g.label = label; g.append(...options); return g; };
    shape.replaceChildren(group("Load cases", facts.cases.map((c, k) => new Option(c.title, `case:${k}`))));
    if (facts.modes.length) shape.append(group("Vibration modes", facts.modes.map((m, k) => new Option(`${m.hz.toFixed(2)} Hz ${m.title}`, `mode:${k}`))));
    if (facts.wobble) {
      shape.append(group("Wobble on the road", facts.wobble.holds.map((hold, k) => new Option(`wobble, ${hold.name}`, `wobble:${k}`))));
      if (+byId("speed").max !== facts.wobble.speeds.length - 1) { byId("speed").max = facts.wobble.speeds.length - 1; byId("speed").value = facts.wobble.start; }
    }
    remembered = {};
    if ([...shape.options].some((o) => o.value === wanted)) shape.value = wanted;
  }

  function canDraw() {
    const gl = document.createElement("canvas").getContext("webgl");
    gl?.getExtension("WEBGL_lose_context")?.loseContext();
    return Boolean(gl) && Boolean(window.Plotly);
  }

  function flat() { document.body.classList.add("flat"); byId("no-view").hidden = false; }

  // `fresh`: another frame, so the view begins anew; else the same frame with other numbers.
  function show(next, fresh = true) {
    const before = byId("shape").value;
    facts = next; scene = facts.scene;
    able ??= canDraw();
    if (!able) return flat();
    try { prepare(); fill(); stop(); reshape(fresh || !started, !fresh && before === byId("shape").value); } catch (error) { flat(); throw error; }
  }

  addEventListener("DOMContentLoaded", () => {
    unfold(location.hash.slice(1));
    if (!byId("view")) return;
    byId("shape").addEventListener("input", () => { const rode = wanted.startsWith("wobble:"); wanted = byId("shape").value; stop(); reshape(rode !== wanted.startsWith("wobble:")); });
    byId("speed").addEventListener("input", speedMoved);
    byId("colour").addEventListener("input", () => draw());
    byId("magnify").addEventListener("input", () => draw());
    byId("seen").addEventListener("input", () => draw(true));
    byId("play").addEventListener("click", play);
    byId("view").addEventListener("keydown", keys);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { if (started) { panel(); draw(); } });
    let wait = null;
    addEventListener("resize", () => { clearTimeout(wait); wait = setTimeout(() => { if (started) { Plotly.Plots.resize("view"); draw(true); } }, 150); });
    const held = byId("facts");
    if (held) show(JSON.parse(held.textContent));
  });
  window.droptrail = { show };
})();
