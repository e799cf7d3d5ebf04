// What stands where in a job's files: outline, surveyed points, holes as drawn and as measured, and how the lists met.
import { ask } from './ask.js';
import { make, number, sign, svg } from './draw.js';
import { change } from './runs.js';

// in the order that they are drawn: a shape, a colour and words of their own
const KINDS = [
  ['survey', 'surveyed places', 'cross'], ['drawn', 'holes as drawn', 'ring'], ['found', 'measured, and known', 'dot'], ['unplaced', 'measured, as they stand in the file', 'dot'],
  ['missing', 'drawn, not measured', 'gap'], ['strange', 'measured, but of no hole drawn', 'x'],
];
const SHAPES = {
  cross: (x, y, r) => `M${x - r} ${y}h${2 * r}M${x} ${y - r}v${2 * r}`,
  x: (x, y, r) => `M${x - r} ${y - r}l${2 * r} ${2 * r}M${x - r} ${y + r}l${2 * r} ${-2 * r}`,
  ring: (x, y, r) => `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`,
  gap: (x, y, r) => `M${x - r} ${y - r}h${2 * r}v${2 * r}h${-2 * r}z`,
  dot: (x, y) => `M${x} ${y}h0`,
};
const shape = (kind, at, r) => {
  let path = '';
  for (let i = 0; i + 1 < at.length; i += 2) path += SHAPES[kind](at[i], -at[i + 1], r); // y points up on the plate
  return path;
};

// half the distance that the places of a kind have on average in the box
const size_of = (at, box) => 0.22 * Math.sqrt(box.width * box.height / Math.max(at.length / 2, 30));

function box_of(told) {
  let x0 = Infinity, y0 = Infinity, x1 = -Infinity, y1 = -Infinity;
  const reach = at => {
    for (let i = 0; i + 1 < at.length; i += 2) {
      x0 = Math.min(x0, at[i]); x1 = Math.max(x1, at[i]); y0 = Math.min(y0, -at[i + 1]); y1 = Math.max(y1, -at[i + 1]);
    }
  };
  told.outline.forEach(reach);
  for (const [kind] of KINDS) if (told[kind]) reach(told[kind].at);
  if (x0 > x1) return null;
  const edge = 0.04 * Math.max(x1 - x0, y1 - y0, 100);
  return { x: x0 - edge, y: y0 - edge, width: x1 - x0 + 2 * edge, height: y1 - y0 + 2 * edge };
}

// the axes of the drawing, where they begin: x and y as in the files
function axes(box) {
  const long = 0.09 * Math.max(box.width, box.height), tip = long / 6;
  const path = `M0 0H${long}M${long - tip} ${-tip / 2}L${long} 0L${long - tip} ${tip / 2}M0 0V${-long}M${-tip / 2} ${tip - long}L0 ${-long}L${tip / 2} ${tip - long}`;
  const letter = (text, x, y) => svg('text', { x, y, 'font-size': long / 3, class: 'axis-letter' }, text);
  return svg('g', {}, svg('path', { d: path, class: 'axes' }), letter('x', long * 1.06, long / 9), letter('y', -long / 9, -long * 1.1));
}

function drawing(told, box) {
  const parts = [svg('path', { class: 'plate-outline', d: told.outline.map(loop => loop.reduce((path, value, i) => path + (i ? (i % 2 ? ' ' : 'L') : 'M') + (i % 2 ? -value : value), '') + 'Z').join('') })];
  const dots = told.found ?? told.unplaced, r = size_of((told.drawn ?? dots ?? told.survey).at, box);
  for (const [kind, , form] of KINDS)
    if (told[kind]?.at.length) {
      const path = svg('path', { class: 'places ' + kind, d: shape(form, told[kind].at, kind === 'survey' ? r * 0.55 : kind === 'drawn' ? r : r * 0.9) });
      if (form === 'dot') path.style.strokeWidth = String(r);
      parts.push(path);
    }
  const words = KINDS.filter(([kind]) => told[kind]).map(([kind, text]) => `${told[kind].count} ${text}`).join(', ');
  return svg('svg', { viewBox: `${box.x} ${box.y} ${box.width} ${box.height}`, class: 'plate-picture', role: 'img', 'aria-label': 'The plate: ' + words }, ...parts, axes(box));
}

function legend(told) {
  const mark = (kind, form) => {
    const path = svg('path', { class: 'places ' + kind, d: SHAPES[form](10, 10, 6) });
    if (form === 'dot') path.style.strokeWidth = '9';
    return svg('svg', { viewBox: '0 0 20 20', class: 'legend-mark', 'aria-hidden': 'true' }, path);
  };
  return make('ul', { class: 'inputs legend' }, KINDS.filter(([kind]) => told[kind] && (told[kind].count || kind === 'missing' || kind === 'strange'))
    .map(([kind, text, form]) => make('li', {}, mark(kind, form), make('strong', {}, String(told[kind].count)), ' ' + text, 2 * told[kind].count > told[kind].at.length + 1 ? make('span', { class: 'small' }, '(evenly thinned in the picture)') : null)));
}

function frame(told) {
  if (told.why) return make('p', { class: 'changed' }, sign('changed'), 'Not laid on each other: ' + told.why);
  if (!told.frame) return null;
  const f = told.frame, moved = f.angle_deg || f.dx || f.dy;
  return [make('p', {}, f.words), f.turned_over ? make('p', { class: 'changed' }, sign('changed'), 'The plate was measured turned over; the measured x was mirrored.') : null,
    make('p', { class: 'small' }, moved ? `To lie on the drawing the measured holes were turned by ${number(f.angle_deg)}\u00b0 and shifted by ${number(f.dx, 'mm')} in x, ${number(f.dy, 'mm')} in y` + (f.rms === undefined ? '.' : `; left over ${number(f.rms, 'mm')} (root mean square).`)
      : 'The measured holes were not moved.')];
}

// a section with the picture; nothing where there is nothing to draw
export async function picture(values) {
  let told;
  try { told = await ask('/api/picture', {}, change(values)); } catch { return null; } // what is wrong is said beside it
  const box = box_of(told);
  if (!box) return null;
  return make('section', { class: 'picture' }, make('h2', {}, 'What stands where'), drawing(told, box), make('div', {}, legend(told), frame(told)));
}
