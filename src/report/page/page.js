'use strict';
(() => {
  const data = JSON.parse(document.getElementById('data').textContent);
  const explorer = document.getElementById('explorer');
  const body = document.body;

  // ---- numbers for people: data are mm, people read the job's unit ----
  const inch = data.unit === 'in';
  const digits = inch ? 4 : 3;
  const length = (mm, extra = 0) => mm === null || mm === undefined ? '\u2013' : (mm / data.mm).toFixed(digits + extra) + ' ' + data.unit;
  const place = mm => (mm / data.mm).toFixed(inch ? 2 : 1);
  const force = n => n === null ? 'above the cap' : inch ? Math.round(n / 4.4482216152605) + ' lbf' : (n / 1000).toFixed(2) + ' kN';
  const STATES = ['not measured', 'conforms', 'in the remainder', 'not proven', 'does not conform', 'plugged', 'not judged'];
  const HOLD = ['seated', 'seats under the foot', 'needs hold-down', 'sags'];

  // ---- the list of faults: sort by a heading, a row shows its hole ----
  const faults = document.getElementById('faults');
  if (faults) {
    const heads = [...faults.tHead.rows[0].cells];
    const number = text => { const m = /-?\d+(\.\d+)?/.exec(text); return m ? +m[0] : NaN; };
    const compare = (a, b) => a.localeCompare(b, 'en', { numeric: true }) || number(a) - number(b);
    heads.forEach((head, column) => head.querySelector('button').addEventListener('click', () => {
      const down = head.getAttribute('aria-sort') === 'ascending';
      heads.forEach(h => h.removeAttribute('aria-sort'));
      head.setAttribute('aria-sort', down ? 'descending' : 'ascending');
      const rows = [...faults.tBodies[0].rows];
      rows.sort((a, b) => compare(a.cells[column].textContent, b.cells[column].textContent) * (down ? -1 : 1));
      faults.tBodies[0].append(...rows);
    }));
  }
  if (!explorer || !data.box) return;
  const holes = data.name ? data.name.length : 0;
  body.classList.add('script');
  explorer.hidden = false;

  // names read from right to left stand in isolates on the page
  const plain = text => text.replace(/[\u2068\u2069]/g, ''), isolated = name => '\u2068' + name + '\u2069';
  const faultsOf = new Map();
  if (faults) {
    for (const row of faults.tBodies[0].rows) {
      const where = plain(row.cells[0].textContent).replace(/, (entry|exit) face$/, '');
      for (const name of where.split(' \u2013 ')) {
        if (!faultsOf.has(name)) faultsOf.set(name, []);
        faultsOf.get(name).push(row.cells[3].textContent);
      }
    }
  }

  // ---- the work list: what is to be done, by name ----
  const workRows = document.getElementById('work-rows');
  const works = workRows ? [...workRows.tBodies[0].rows] : [];
  const todoOf = new Map(works.map(row => [plain(row.cells[1].textContent), row.cells[4].textContent]));

  // ---- layers ----
  const bore = i => (data.entry && data.entry[i]) || (data.exit && data.exit[i]) || null;
  const worst = (i, k, pick) => {
    const a = data.entry && data.entry[i], b = data.exit && data.exit[i];
    const values = [a, b].filter(v => v && v[k] !== null).map(v => v[k]);
    return values.length ? pick(...values) : null;
  };
  const COLOURS = ['#d3d9df', '#009e73', '#56b4e9', '#e69f00', '#d55e00', '#cc79a7', '#9aa5b1'];
  const HOLD_COLOURS = ['#009e73', '#56b4e9', '#d55e00', '#cc79a7'];
  // blue - white - vermilion, and a one-sided white - blue
  const mix = (a, b, t) => a.map((v, k) => Math.round(v + (b[k] - v) * t));
  const rgb = c => `rgb(${c[0]},${c[1]},${c[2]})`;
  const BLUE = [0, 114, 178], WHITE = [247, 247, 247], RED = [213, 94, 0];
  const diverging = t => rgb(t < 0 ? mix(WHITE, BLUE, Math.min(1, -t)) : mix(WHITE, RED, Math.min(1, t)));
  const limits = data.limits;
  const layers = [];
  const layer = (key, words, use) => layers.push(Object.assign({ key, words }, use));
  if (data.entry || data.exit) {
    layer('verdict', 'Verdict', { colour: i => COLOURS[data.state[i]], scale: '' });
    layer('position', 'Position error', {
      colour: i => { const p = worst(i, 3, Math.max); return p === null ? COLOURS[0] : diverging(Math.min(1, p / (limits.position || maximum(3)))); },
      arrows: true,
      scale: () => limits.position ? 'Colour: position from zero (white) to the limit (vermilion).' : 'Colour: position from zero (white) to the largest (vermilion).',
    });
    const span = (limits.upper_limit !== null && limits.nominal !== null) ? Math.max(limits.upper - limits.nominal, limits.nominal - limits.lower) : 0.1;
    const middle = limits.nominal !== null ? limits.nominal : median(2);
    layer('diameter', 'Diameter', {
      colour: i => { const b = bore(i); return !b || b[2] === null ? COLOURS[0] : diverging((b[2] - middle) / span); },
      scale: () => `Colour: diameter from ${length(middle - span)} (blue) over ${length(middle)} (white) to ${length(middle + span)} (vermilion) and above.`,
    });
    if (limits.ligament !== null) {
      const low = limits.minimum !== null ? limits.minimum : limits.ligament / 2;
      layer('ligament', 'Smallest ligament', {
        colour: i => { const l = worst(i, 4, Math.min); return l === null ? COLOURS[0] : diverging(1 - (l - low) / (limits.ligament - low)); },
        scale: () => `Colour: smallest ligament of the hole from ${length(limits.ligament)} (white) down to ${length(low)} (vermilion).`,
      });
    }
  }
  if (data.map) layer('surface', 'Surface', { grid: 'deviation', colour: () => null, scale: '' });
  if (data.map && data.map.gap) layer('gap', 'Gap beneath', { grid: 'gap', colour: () => null, scale: '' });
  if (data.hold) layer('hold', 'Hold-down', {
    colour: i => HOLD_COLOURS[data.hold[i][3]], holding: true,
    scale: () => 'Green: seated. Sky blue: seats under the foot. Vermillion with a cross: needs hold-down. Squares: clamps, with number and force. Small rings: support pins.' + (data.outliers && data.outliers.length ? ' Crosses with a row: survey points that stand out.' : ''),
  });
  if (data.shims && data.shims.length) layer('shims', 'Shims', {
    colour: () => '#c3cad1', holding: true, shims: true,
    scale: () => 'A second plan, instead of the clamps. Triangles: shims, numbered as in their table; from near by with their thickness.',
  });
  if (!layers.length) layer('holes', 'Holes', { colour: () => '#9aa5b1', scale: '' });
  let current = (data.study && layers.find(l => l.key === 'hold')) || layers[0];

  function maximum(k) { let m = 0; for (let i = 0; i < holes; i++) { const v = worst(i, k, Math.max); if (v > m) m = v; } return m || 1; }
  function median(k) { const v = []; for (let i = 0; i < holes; i++) { const b = bore(i); if (b && b[k] !== null) v.push(b[k]); } v.sort((a, b) => a - b); return v.length ? v[v.length >> 1] : 0; }

  // ---- view: pixel = (x - cx) * zoom + w/2 ; y upwards ----
  const canvas = document.getElementById('map'), pen = canvas.getContext('2d');
  const card = document.getElementById('card'), scaleText = document.getElementById('scale');
  const legend = document.querySelector('.legend');
  const [xmin, ymin, xmax, ymax] = data.box;
  const view = { cx: (xmin + xmax) / 2, cy: (ymin + ymax) / 2, zoom: 1, w: 1, h: 1 };
  let fitted = 1, selected = -1, hovered = -1, waiting = false;
  let spot = null; // a place of the work list that is no hole of the drawing
  const px = x => (x - view.cx) * view.zoom + view.w / 2;
  const py = y => (view.cy - y) * view.zoom + view.h / 2;
  const ux = p => (p - view.w / 2) / view.zoom + view.cx;
  const uy = p => view.cy - (p - view.h / 2) / view.zoom;

  function fit() {
    fitted = Math.min((view.w - 40) / (xmax - xmin || 1), (view.h - 40) / (ymax - ymin || 1));
    view.cx = (xmin + xmax) / 2; view.cy = (ymin + ymax) / 2; view.zoom = fitted;
  }
  function resize() {
    const box = canvas.getBoundingClientRect(), ratio = window.devicePixelRatio || 1;
    const whole = view.zoom === fitted;
    view.w = box.width; view.h = box.height;
    canvas.width = Math.round(box.width * ratio); canvas.height = Math.round(box.height * ratio);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    if (whole || view.zoom === 1) fit();
    draw();
  }
  function draw() { if (!waiting) { waiting = true; requestAnimationFrame(() => { waiting = false; paint(); }); } }

  // ---- nearest hole: buckets ----
  const bucket = Math.max((xmax - xmin) / Math.sqrt(holes + 1), 1e-9);
  const cells = new Map();
  const cellKey = (i, j) => i * 100003 + j;
  for (let i = 0; i < holes; i++) {
    const key = cellKey(Math.floor(data.x[i] / bucket), Math.floor(data.y[i] / bucket));
    if (!cells.has(key)) cells.set(key, []);
    cells.get(key).push(i);
  }
  function nearest(x, y, reach) {
    let best = -1, least = reach * reach;
    const n = Math.min(60, Math.ceil(reach / bucket));
    const ci = Math.floor(x / bucket), cj = Math.floor(y / bucket);
    for (let a = -n; a <= n; a++) for (let b = -n; b <= n; b++) {
      for (const i of cells.get(cellKey(ci + a, cj + b)) || []) {
        const d = (data.x[i] - x) ** 2 + (data.y[i] - y) ** 2;
        if (d < least) { least = d; best = i; }
      }
    }
    return best;
  }

  // ---- painting ----
  function outline() {
    pen.beginPath();
    if (data.outline === 'disc') pen.arc(px((xmin + xmax) / 2), py((ymin + ymax) / 2), (xmax - xmin) / 2 * view.zoom, 0, 7);
    else if (data.outline === 'rectangle') pen.rect(px(xmin), py(ymax), (xmax - xmin) * view.zoom, (ymax - ymin) * view.zoom);
    else if (data.outline === 'loops') {
      for (const loop of data.loops) {
        for (let k = 0; k < loop.length; k += 2) pen[k ? 'lineTo' : 'moveTo'](px(loop[k]), py(loop[k + 1]));
        pen.closePath();
      }
    }
  }
  function gridRange(values) {
    let low = Infinity, high = -Infinity;
    for (const v of values) if (v !== null) { if (v < low) low = v; if (v > high) high = v; }
    return [low, high];
  }
  function halo(text, x, y) {
    pen.lineWidth = 3; pen.strokeStyle = 'rgba(255,255,255,.85)'; pen.strokeText(text, x, y); pen.fillText(text, x, y);
  }
  function paintGrid(name) {
    const m = data.map, values = m[name], [low, high] = gridRange(values);
    const largest = Math.max(Math.abs(low), Math.abs(high), 1e-9);
    for (let j = 0; j + 1 < m.rows; j++) for (let i = 0; i + 1 < m.columns; i++) {
      const k = j * m.columns + i;
      const corners = [values[k], values[k + 1], values[k + m.columns], values[k + m.columns + 1]].filter(v => v !== null);
      if (!corners.length) continue;
      const mean = corners.reduce((s, v) => s + v, 0) / corners.length;
      pen.fillStyle = diverging(mean / largest);
      const x = px(m.x0 + i * m.dx), y = py(m.y0 + (j + 1) * m.dy);
      pen.fillRect(x, y, m.dx * view.zoom + 1, m.dy * view.zoom + 1);
    }
    contours(m, values, low, high);
    scaleText.textContent = name === 'gap'
      ? `Colour: gap beneath the plate at rest on its supports, up to ${length(high)} (vermilion). Contour lines carry their gap.`
      : `Colour: below (blue) and above (vermilion) the least-squares plane, ${length(low)} to ${length(high)}. Contour lines carry their height.`;
  }
  function niceStep(range) {
    const raw = range / 8, p = 10 ** Math.floor(Math.log10(raw || 1e-9)), f = raw / p;
    return (f < 1.5 ? 1 : f < 3.5 ? 2 : f < 7.5 ? 5 : 10) * p;
  }
  function contours(m, values, low, high) {
    const step = niceStep((high - low) / data.mm) * data.mm;
    if (!(step > 0)) return;
    pen.fillStyle = '#111'; pen.font = '11px system-ui, sans-serif';
    for (let level = Math.ceil(low / step) * step; level <= high; level += step) {
      const line = new Path2D();
      let label = null, seen = 0;
      for (let j = 0; j + 1 < m.rows; j++) for (let i = 0; i + 1 < m.columns; i++) {
        const k = j * m.columns + i;
        const v = [values[k], values[k + 1], values[k + m.columns + 1], values[k + m.columns]];
        if (v.includes(null)) continue;
        const at = [];
        const corner = [[0, 0], [1, 0], [1, 1], [0, 1]];
        for (let e = 0; e < 4; e++) {
          const a = v[e] - level, b = v[(e + 1) % 4] - level;
          if (a < 0 === b < 0) continue;
          const t = a / (a - b), c = corner[e], d = corner[(e + 1) % 4];
          at.push([m.x0 + (i + c[0] + (d[0] - c[0]) * t) * m.dx, m.y0 + (j + c[1] + (d[1] - c[1]) * t) * m.dy]);
        }
        for (let e = 0; e + 1 < at.length; e += 2) {
          line.moveTo(px(at[e][0]), py(at[e][1])); line.lineTo(px(at[e + 1][0]), py(at[e + 1][1]));
          if (seen++ % 57 === 20) label = at[e];
        }
      }
      pen.strokeStyle = '#333'; pen.lineWidth = 1; pen.stroke(line);
      if (label) halo(((Math.abs(level) < step / 2 ? 0 : level) / data.mm).toFixed(Math.max(0, Math.min(4, Math.ceil(-Math.log10(step / data.mm))))), px(label[0]) + 2, py(label[1]) - 2);
    }
  }
  function paintHoles() {
    const byColour = new Map(), small = [], margin = 40;
    for (let i = 0; i < holes; i++) {
      const x = px(data.x[i]), y = py(data.y[i]);
      if (x < -margin || y < -margin || x > view.w + margin || y > view.h + margin) continue;
      const colour = current.colour(i);
      if (!byColour.has(colour)) byColour.set(colour, []);
      byColour.get(colour).push(i);
      small.push(i);
    }
    pen.lineWidth = 1;
    for (const [colour, list] of byColour) paintColour(colour, list);
    marks(small);
    if (current.arrows) arrows(small);
    if (small.length < 350 && data.r[0] * view.zoom > 14) labels(small);
  }
  const ROUND_FROM = 2.6; // px: below, a square cannot be told from a disc and paints far quicker
  function paintColour(colour, list) {
    if (colour !== null && data.r[list[0]] * view.zoom < ROUND_FROM) {
      pen.fillStyle = colour;
      for (const i of list) { const side = Math.max(2, 1.8 * data.r[i] * view.zoom); pen.fillRect(px(data.x[i]) - side / 2, py(data.y[i]) - side / 2, side, side); }
      return;
    }
    const path = new Path2D();
    for (const i of list) { const x = px(data.x[i]), y = py(data.y[i]), r = Math.max(1, data.r[i] * view.zoom); path.moveTo(x + r, y); path.arc(x, y, r, 0, 6.2832); }
    if (colour === null) { pen.strokeStyle = 'rgba(40,50,60,.45)'; pen.stroke(path); return; }
    pen.fillStyle = colour; pen.fill(path);
    if (data.r[list[0]] * view.zoom > 4) { pen.strokeStyle = 'rgba(0,0,0,.35)'; pen.stroke(path); }
  }
  // shape beside colour: a cross fails, a diamond is not proven, a dot is in the remainder, a dash is plugged
  function marks(list) {
    const cross = new Path2D(), diamond = new Path2D(), dot = new Path2D(), dash = new Path2D();
    const failing = i => current.shims ? false : current.holding ? data.hold[i][3] >= 2 : current.key === 'verdict' && data.state[i] === 4;
    // few failing holes are shown large so that none is missed, many no larger than themselves
    const few = list.reduce((n, i) => n + failing(i), 0) < 200;
    for (const i of list) {
      const x = px(data.x[i]), y = py(data.y[i]), r = Math.max(few ? 4 : 0, data.r[i] * view.zoom * .7);
      const fails = failing(i);
      if (fails) { cross.moveTo(x - r, y - r); cross.lineTo(x + r, y + r); cross.moveTo(x - r, y + r); cross.lineTo(x + r, y - r); }
      if (current.key !== 'verdict') continue;
      if (data.state[i] === 3) { diamond.moveTo(x, y - r); diamond.lineTo(x + r, y); diamond.lineTo(x, y + r); diamond.lineTo(x - r, y); diamond.closePath(); }
      if (data.state[i] === 2 && data.r[i] * view.zoom > 2) { dot.moveTo(x + r * .3, y); dot.arc(x, y, r * .3, 0, 7); }
      if (data.state[i] === 5) { dash.moveTo(x - r, y); dash.lineTo(x + r, y); }
    }
    pen.strokeStyle = '#111'; pen.lineWidth = few ? 2 : Math.min(2, data.r[0] * view.zoom * .25); pen.stroke(cross); pen.lineWidth = 2; pen.stroke(diamond); pen.stroke(dash);
    pen.fillStyle = '#111'; pen.fill(dot);
  }
  function arrows(list) {
    const reach = limits.position ? limits.position / 2 : maximum(3) / 2;
    const magnified = Math.max(1, Math.round(niceStep(8 * data.r[0] * 1.6 / reach)));
    const path = new Path2D();
    for (const i of list) {
      const b = bore(i);
      if (!b || b[0] === null) continue;
      const x = px(data.x[i]), y = py(data.y[i]), tx = x + b[0] * magnified * view.zoom, ty = y - b[1] * magnified * view.zoom;
      path.moveTo(x, y); path.lineTo(tx, ty);
      const a = Math.atan2(ty - y, tx - x), s = Math.min(6, Math.hypot(tx - x, ty - y) * .4);
      path.lineTo(tx - s * Math.cos(a - .5), ty - s * Math.sin(a - .5)); path.moveTo(tx, ty); path.lineTo(tx - s * Math.cos(a + .5), ty - s * Math.sin(a + .5));
    }
    pen.strokeStyle = '#111'; pen.lineWidth = 1.2; pen.stroke(path);
    scaleText.textContent += ` Arrows: error of the entry face, magnified ${magnified} times.`;
  }
  function labels(list) {
    pen.fillStyle = '#111'; pen.font = '11px system-ui, sans-serif'; pen.textAlign = 'center';
    for (const i of list) pen.fillText(data.name[i], px(data.x[i]), py(data.y[i]) + data.r[i] * view.zoom + 12);
    pen.textAlign = 'start';
  }
  function extras() {
    pen.strokeStyle = '#d55e00'; pen.lineWidth = 2; pen.setLineDash([4, 3]);
    for (const [, x, y, d] of data.extra || []) { pen.beginPath(); pen.arc(px(x), py(y), Math.max(4, (d || 2 * (data.r ? data.r[0] : 5)) / 2 * view.zoom), 0, 7); pen.stroke(); }
    pen.setLineDash([]);
  }
  // words beside marks, none over another or over a mark: eight ways, then farther out with a line that leads there
  const WAYS = [[1, 0], [-1, 0], [0, -1], [0, 1], [1, -1], [1, 1], [-1, -1], [-1, 1]];
  function labeller() {
    const taken = [];
    const free = b => !taken.some(t => b[0] < t[2] && t[0] < b[2] && b[1] < t[3] && t[1] < b[3]);
    return {
      occupy: (x, y, r) => taken.push([x - r, y - r, x + r, y + r]),
      say: (text, x, y, r) => {
        const w = pen.measureText(text).width + 4, h = 15;
        for (let ring = 0; ring < 5; ring++) for (const [a, d] of WAYS) {
          const cx = x + a * (r + 2 + 12 * ring + w / 2), cy = y + d * (r + 2 + 12 * ring + h / 2);
          const box = [cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2];
          if (!free(box)) continue;
          taken.push(box);
          if (ring) { pen.lineWidth = 1; pen.strokeStyle = '#56606b'; pen.beginPath(); pen.moveTo(x, y); pen.lineTo(Math.min(Math.max(x, box[0]), box[2]), Math.min(Math.max(y, box[1]), box[3])); pen.stroke(); }
          halo(text, box[0] + 2, box[3] - 4);
          return;
        }
      },
    };
  }
  function holding() {
    const labels = labeller(), at = list => (list || []).map(([x, y, v], k) => [px(x), py(y), v, k]).filter(([x, y]) => x > -40 && y > -40 && x < view.w + 40 && y < view.h + 40);
    pen.font = '12px system-ui, sans-serif';
    for (const [x, y] of at(data.pins)) { pen.lineWidth = 2; pen.fillStyle = '#fff'; pen.strokeStyle = '#aa3377'; pen.beginPath(); pen.arc(x, y, 4, 0, 7); pen.fill(); pen.stroke(); labels.occupy(x, y, 4); }
    if (current.shims) marksWithWords(at(data.shims), labels, 7, (x, y) => {
      pen.fillStyle = '#e69f00'; pen.strokeStyle = '#111'; pen.lineWidth = 1.5; pen.beginPath(); pen.moveTo(x, y - 7); pen.lineTo(x + 7, y + 6); pen.lineTo(x - 7, y + 6); pen.closePath(); pen.fill(); pen.stroke();
    }, (t, k) => view.zoom > 2.5 * fitted || data.shims.length < 12 ? `${k + 1}: ${length(t)}` : `${k + 1}`, '#111');
    else {
      const s = Math.max(7, (data.pad || 0) / 2 * view.zoom);
      marksWithWords(at(data.clamps), labels, s, (x, y) => { pen.strokeStyle = '#111'; pen.lineWidth = 2; pen.strokeRect(x - s, y - s, 2 * s, 2 * s); }, (f, k) => `${k + 1}: ${force(f)}`, '#111');
    }
    marksWithWords(at(data.outliers), labels, 5, (x, y) => { pen.strokeStyle = '#d55e00'; pen.lineWidth = 2.5; pen.beginPath(); pen.moveTo(x - 5, y - 5); pen.lineTo(x + 5, y + 5); pen.moveTo(x - 5, y + 5); pen.lineTo(x + 5, y - 5); pen.stroke(); }, row => `row ${row}`, '#9c4400');
  }
  // all marks first, so that no word comes to lie on one
  function marksWithWords(places, labels, r, mark, words, colour) {
    for (const [x, y] of places) { mark(x, y); labels.occupy(x, y, r); }
    for (const [x, y, value, k] of places) { pen.fillStyle = colour; labels.say(words(value, k), x, y, r); }
  }
  function ringAt(x, y, r, colour) {
    pen.strokeStyle = colour; pen.lineWidth = 3; pen.beginPath(); pen.arc(px(x), py(y), Math.max(7, r), 0, 7); pen.stroke();
  }
  function ring(i, colour) { if (i >= 0) ringAt(data.x[i], data.y[i], data.r[i] * view.zoom + 4, colour); }
  function paint() {
    pen.clearRect(0, 0, view.w, view.h);
    pen.fillStyle = '#fff'; pen.fillRect(0, 0, view.w, view.h);
    scaleText.textContent = typeof current.scale === 'function' ? current.scale() : current.scale;
    if (legend) legend.hidden = current.key !== 'verdict';
    outline(); pen.fillStyle = '#eef1f4'; pen.fill();
    if (current.grid) { pen.save(); outline(); pen.clip(); paintGrid(current.grid); pen.restore(); }
    outline(); pen.strokeStyle = '#56606b'; pen.lineWidth = 1.5; pen.stroke();
    if (holes) paintHoles();
    extras();
    if (current.holding || current.grid === 'gap') holding();
    ring(hovered, 'rgba(0,114,178,.6)'); ring(selected, '#0072b2');
    if (spot) ringAt(spot[0], spot[1], 7, '#0072b2');
  }

  // Two numbers in a name are the drawing's row and column, however rows and columns may be counted here.
  const numbersOf = name => (name.match(/\d+/g) || []).map(Number);

  // ---- the card of a hole ----
  function describe(i) {
    const lines = [];
    const add = (words, b) => {
      if (!b) return;
      lines.push(`${words}: ${b[3] === null ? 'position not known' : length(b[3] / 2) + ' out of place (position ' + length(b[3]) + ')'}, diameter ${length(b[2])}` + (b[4] !== null ? `, smallest ligament ${length(b[4])}` : ''));
      lines.push(`   off by ${length(b[0])} in x, ${length(b[1])} in y`);
    };
    lines.push(`x ${place(data.x[i])}, y ${place(data.y[i])} ${data.unit}` + (data.row && numbersOf(data.name[i]).length < 2 ? `; row ${data.row[i]}, column ${data.column[i]}` : ''));
    if (data.entry || data.exit) lines.push(STATES[data.state[i]]);
    if (data.entry) add('Entry', data.entry[i]);
    if (data.exit) add('Exit', data.exit[i]);
    if (data.hold) {
      const h = data.hold[i];
      lines.push(`Hold-down: gap ${length(h[0])}, under the foot ${length(h[1])}, force to close ${force(h[2])}: ${HOLD[h[3]]}`);
    }
    if (todoOf.has(data.name[i])) lines.push('\u2192 ' + todoOf.get(data.name[i]));
    const mine = [...new Set(faultsOf.get(data.name[i]) || [])], shown = 4;
    for (const fault of mine.slice(0, shown)) lines.push('\u2716 ' + fault);
    if (mine.length > shown) lines.push(`and ${mine.length - shown} more in the list below`);
    return lines.join('\n');
  }
  function show(i) {
    card.replaceChildren();
    if (i < 0) { card.textContent = 'Point at a hole, tap it, or step with the arrow keys.'; return; }
    const name = document.createElement('b');
    name.textContent = data.name[i];
    card.append(name, document.createTextNode(describe(i)));
  }
  function select(i, centre) {
    selected = i; spot = null;
    if (i >= 0 && centre) {
      view.zoom = Math.max(view.zoom, Math.min(fitted * 400, 26 / Math.max(data.r[i], .01) ** 1 / 2));
      view.cx = data.x[i]; view.cy = data.y[i];
    } else if (i >= 0) {
      const x = px(data.x[i]), y = py(data.y[i]);
      if (x < 30 || y < 30 || x > view.w - 30 || y > view.h - 30) { view.cx = data.x[i]; view.cy = data.y[i]; }
    }
    if (faults) for (const row of faults.tBodies[0].rows) row.classList.toggle('chosen', i >= 0 && plain(row.cells[0].textContent).split(/, | \u2013 /).includes(data.name[i]));
    show(i); draw();
  }

  // ---- pointer, wheel, keys ----
  const fingers = new Map();
  let moved = 0, spread = 0;
  function zoomAt(factor, x, y) {
    const before = [ux(x), uy(y)];
    view.zoom = Math.max(fitted * .5, Math.min(fitted * 400, view.zoom * factor));
    view.cx += before[0] - ux(x); view.cy += before[1] - uy(y);
    draw();
  }
  const at = e => { const b = canvas.getBoundingClientRect(); return [e.clientX - b.left, e.clientY - b.top]; };
  canvas.addEventListener('wheel', e => { e.preventDefault(); zoomAt(Math.exp(-e.deltaY * .0016), ...at(e)); }, { passive: false });
  canvas.addEventListener('pointerdown', e => { canvas.setPointerCapture(e.pointerId); fingers.set(e.pointerId, at(e)); moved = 0; spread = 0; });
  canvas.addEventListener('pointermove', e => {
    const [x, y] = at(e);
    if (!fingers.has(e.pointerId)) {
      const i = nearest(ux(x), uy(y), Math.max(12 / view.zoom, holes ? data.r[0] : 0));
      if (i !== hovered) { hovered = i; show(i >= 0 ? i : selected); draw(); }
      return;
    }
    const [ox, oy] = fingers.get(e.pointerId);
    fingers.set(e.pointerId, [x, y]);
    if (fingers.size === 1) { moved += Math.abs(x - ox) + Math.abs(y - oy); view.cx -= (x - ox) / view.zoom; view.cy += (y - oy) / view.zoom; draw(); }
    else {
      const [a, b] = [...fingers.values()], now = Math.hypot(a[0] - b[0], a[1] - b[1]);
      if (spread) zoomAt(now / spread, (a[0] + b[0]) / 2, (a[1] + b[1]) / 2);
      spread = now; moved = 99;
    }
  });
  const lift = e => {
    if (fingers.delete(e.pointerId) && moved < 5 && e.type === 'pointerup') {
      const [x, y] = at(e);
      select(nearest(ux(x), uy(y), Math.max(16 / view.zoom, holes ? data.r[0] : 0)), false);
    }
  };
  canvas.addEventListener('pointerup', lift);
  canvas.addEventListener('pointercancel', lift);
  canvas.addEventListener('pointerleave', () => { hovered = -1; show(selected); draw(); });
  function step(dx, dy) {
    if (!holes) return;
    if (selected < 0) { select(nearest(view.cx, view.cy, xmax - xmin + ymax - ymin), false); return; }
    let best = -1, least = Infinity;
    for (let i = 0; i < holes; i++) {
      const x = data.x[i] - data.x[selected], y = data.y[i] - data.y[selected];
      const along = x * dx + y * dy, aside = Math.abs(x * dy) + Math.abs(y * dx);
      if (along <= 1e-6 || aside > along * 1.8) continue;
      const cost = along + 2 * aside;
      if (cost < least) { least = cost; best = i; }
    }
    if (best >= 0) select(best, false);
  }
  canvas.addEventListener('keydown', e => {
    const keys = { ArrowLeft: () => step(-1, 0), ArrowRight: () => step(1, 0), ArrowUp: () => step(0, 1), ArrowDown: () => step(0, -1),
      '+': () => zoomAt(1.4, view.w / 2, view.h / 2), '=': () => zoomAt(1.4, view.w / 2, view.h / 2), '-': () => zoomAt(1 / 1.4, view.w / 2, view.h / 2),
      0: () => { fit(); draw(); }, Enter: () => select(selected, true), Escape: () => select(-1, false) };
    if (keys[e.key]) { e.preventDefault(); keys[e.key](); }
  });
  document.getElementById('closer').addEventListener('click', () => zoomAt(1.6, view.w / 2, view.h / 2));
  document.getElementById('wider').addEventListener('click', () => zoomAt(1 / 1.6, view.w / 2, view.h / 2));
  document.getElementById('whole').addEventListener('click', () => { fit(); draw(); });

  // ---- search: a name, or row and column ----
  function find(text) {
    const wanted = text.trim().toLowerCase();
    if (!wanted || !holes) return -1;
    const exact = data.name.findIndex(n => n.toLowerCase() === wanted);
    if (exact >= 0) return exact;
    const pair = /^(?:row|r)?\s*(\d+)\s*(?:[,;/ -]|\s)*\s*(?:column|col|c)?\s*(\d+)$/.exec(wanted);
    if (pair && data.row) {
      const named = data.name.findIndex(n => { const own = numbersOf(n); return own.length === 2 && own[0] === +pair[1] && own[1] === +pair[2]; });
      if (named >= 0) return named;
      const found = data.row.findIndex((r, i) => r === +pair[1] && data.column[i] === +pair[2]);
      if (found >= 0) return found;
    }
    return data.name.findIndex(n => n.toLowerCase().startsWith(wanted));
  }
  document.getElementById('find').addEventListener('submit', e => {
    e.preventDefault();
    const text = document.getElementById('find-text').value, i = find(text);
    if (i >= 0) select(i, true);
    else { selected = -1; card.textContent = `No hole is called \u201c${isolated(text)}\u201d, and none stands at that row and column.`; draw(); }
  });
  if (faults) faults.tBodies[0].addEventListener('click', e => {
    const row = e.target.closest('tr'), i = row ? find(plain(row.cells[0].textContent).split(/, | \u2013 /)[0]) : -1;
    if (i >= 0) { select(i, true); document.getElementById('plate').scrollIntoView(); }
  });

  const group = document.getElementById('layers');
  for (const l of layers) {
    const label = document.createElement('label'), input = document.createElement('input');
    input.type = 'radio'; input.name = 'layer'; input.value = l.key; input.checked = l === current;
    input.addEventListener('change', () => { current = l; draw(); });
    label.append(input, l.words);
    group.append(label);
  }
  // ---- stepping through the work list ----
  const indexOf = new Map();
  for (let i = 0; i < holes; i++) indexOf.set(data.name[i], i);
  const walked = document.getElementById('walked');
  let stepAt = -1, wantedTodo = null;
  const shownRows = () => works.filter(row => !row.hidden);
  function visit(row) {
    const list = shownRows(), name = plain(row.cells[1].textContent), i = indexOf.get(name);
    stepAt = list.indexOf(row);
    works.forEach(r => r.classList.toggle('chosen', r === row));
    if (i !== undefined) { select(i, true); }
    else {
      select(-1, false);
      spot = [+row.dataset.x, +row.dataset.y]; view.cx = spot[0]; view.cy = spot[1];
      const head = document.createElement('b');
      head.textContent = name;
      card.replaceChildren(head, document.createTextNode('\u2192 ' + row.cells[4].textContent + '\n\u2716 ' + row.cells[5].textContent));
      draw();
    }
    walked.textContent = `${stepAt + 1} of ${list.length}: ${isolated(name)}, ${row.dataset.todo}`;
  }
  function walk(by) {
    const list = shownRows();
    if (!list.length) return;
    const to = stepAt < 0 ? (by > 0 ? 0 : list.length - 1) : (stepAt + by + list.length) % list.length;
    visit(list[to]);
    canvas.focus({ preventScroll: true });
    const box = canvas.getBoundingClientRect();
    if (box.top < 0 || box.bottom > innerHeight) canvas.parentElement.scrollIntoView();
  }
  if (works.length) {
    document.getElementById('walk').hidden = false;
    document.getElementById('next').addEventListener('click', () => walk(1));
    document.getElementById('previous').addEventListener('click', () => walk(-1));
    for (const id of ['plate', 'work']) document.getElementById(id).addEventListener('keydown', e => {
      if (e.target.tagName === 'INPUT' || e.ctrlKey || e.altKey || e.metaKey) return;
      if (e.key === 'n' || e.key === 'p') { e.preventDefault(); walk(e.key === 'n' ? 1 : -1); }
    });
    workRows.tBodies[0].addEventListener('click', e => {
      const row = e.target.closest('tr');
      if (row) { visit(row); document.getElementById('plate').scrollIntoView(); }
    });
    const shown = document.getElementById('shown');
    for (const tile of document.querySelectorAll('.tile')) tile.addEventListener('click', () => {
      wantedTodo = wantedTodo === tile.dataset.todo ? null : tile.dataset.todo;
      document.querySelectorAll('.tile').forEach(t => t.dataset.todo === wantedTodo ? t.setAttribute('aria-current', 'true') : t.removeAttribute('aria-current'));
      for (const row of works) row.hidden = wantedTodo !== null && row.dataset.todo !== wantedTodo;
      stepAt = -1;
      shown.hidden = wantedTodo === null;
      shown.textContent = wantedTodo === null ? '' : `Only what is to do: ${wantedTodo}. The same tile shows all again.`;
      walked.textContent = `${shownRows().length} to step through${wantedTodo ? ': ' + wantedTodo : ''}.`;
    });
  }

  if (!holes) document.getElementById('find').hidden = true;
  addEventListener('resize', resize);
  resize();
  document.documentElement.dataset.ready = 'yes'; // for tests: the map is drawn
})();
