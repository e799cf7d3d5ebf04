// A result beside the report: asked for, its run followed, its page shown. For comparing, correcting, and the history.
import { ask } from './ask.js';
import { make, problem, sign } from './draw.js';
import { RUN_SIGNS, RUN_WORDS, busy, change, follow, run_of } from './runs.js';

const link = (address, job, kind, more = {}) => address + '?' + new URLSearchParams({ job, kind, ...more });

// what stands of it; false where there is nothing yet. `above`: what else to say of its files, from their data
async function standing(place, subject, kind, title, above) {
  const { page, files } = await ask('/api/result', { job: subject, kind });
  if (!files.includes(page)) { place.replaceChildren(); return false; }
  const data = files.find(name => name.endsWith('.json'));
  const more = above && data ? above(await ask('/file', { job: subject, kind, name: data })) : null;
  const others = files.filter(name => name !== page).sort();
  place.replaceChildren(...[more, make('p', { class: 'actions' }, others.map(name => make('a', { class: 'button', href: link('/file', subject, kind, { name }), download: name }, name))),
    make('iframe', { class: 'report', title, sandbox: 'allow-scripts', src: link('/report', subject, kind) })].filter(Boolean));
  return true;
}

// A button and what comes of it. `orders`: a list of what to run, one after the other; it throws what is missing.
// `even_so`: a run that failed in part, as when some plates were refused, is told, and the next begins all the same.
export function asked({ subject, kind, button, title, orders, above, even_so = false }) {
  const start = make('button', { type: 'button', class: 'main-action' }, button), stop = make('button', { type: 'button', hidden: true }, 'Stop');
  const line = make('p', { class: 'run-line', role: 'status' }), said = make('div'), wrong = make('div'), place = make('div');
  let left = [], mine = 0, current = null, told = [];
  const tell = text => wrong.replaceChildren(problem(text || 'It did not come to a result.'));
  const trouble = error => { tell(error.message); left = []; mine = 0; start.disabled = false; };
  const next = async () => {
    const order = left.shift();
    try { mine = (await ask('/api/run', {}, change({ job: subject(), kind, ...order }))).number; }
    catch (refused) { trouble(refused); }
  };
  start.onclick = () => {
    wrong.replaceChildren(); said.replaceChildren(); told = [];
    try { left = orders(); } catch (lacking) { trouble(lacking); return; }
    start.disabled = true;
    next();
  };
  stop.onclick = () => { left = []; ask('/api/stop', {}, change({ number: current.number })).catch(trouble); };
  const ended = async run => {
    mine = 0;
    if (run.said) told.push(run.said.trim());
    const failed = run.state === 'failed';
    if (failed) tell(told.join('\n'));
    if (left.length && (run.state === 'done' || (failed && even_so))) { next(); return; }
    left = [];
    start.disabled = false;
    if (run.state !== 'done') return;
    const shown = await standing(place, subject(), kind, title, above).catch(trouble);
    said.replaceChildren(make('details', { open: !shown }, make('summary', {}, 'In words'), make('pre', { class: 'first' }, told.join('\n'))));
  };
  const node = make('div', {}, make('p', { class: 'actions' }, start, stop), wrong, line, place, said);
  follow(node, state => {
    current = run_of(state, subject(), kind);
    const going = busy(current) && current.number === mine;
    stop.hidden = !going;
    if (!current || !mine) { line.replaceChildren(); return; }
    if (current.number < mine) return;
    line.replaceChildren(sign(RUN_SIGNS[current.state]), `${RUN_WORDS[current.state]}, ${current.seconds.toFixed(1)} s`);
    line.className = 'run-line' + (current.state === 'running' ? ' working' : '');
    if (!going) ended(current);
  });
  return { node, show: () => standing(place, subject(), kind, title, above).catch(trouble) };
}

// plates to tick, of those that have a report
export function choice(rows, chosen = () => false) {
  const boxes = rows.map((row, i) => [make('input', { type: 'checkbox', id: 'of-' + i, checked: chosen(row) }), row]);
  const node = make('ul', { class: 'inputs choice' }, boxes.map(([box, row]) => make('li', {}, make('label', { class: 'tick' }, box, make('span', {}, row.plate ?? row.title ?? row.job), make('span', { class: 'small' }, [row.machine, row.inspected, row.job].filter(Boolean).join(' \u00b7 '))))));
  return { node, all: yes => boxes.forEach(([box]) => { box.checked = yes; }), jobs: () => boxes.filter(([box]) => box.checked).map(([, row]) => row.job) };
}

// every plate, once all have been read
export async function all_plates() {
  let rows = [];
  do rows = (await ask('/api/plates')).rows; while (rows.some(row => row.reading));
  return rows;
}
export const plates_with_report = async () => (await all_plates()).filter(row => row.report && !row.bundle);

export const back_to = job => make('a', { class: 'button', href: '#/plate/' + encodeURIComponent(job) }, 'To the plate');
