// Beside the instrument: whenever it writes its file, the holes run again, and this shows what was measured so far.
import { ask } from './ask.js';
import { beside, make, problem, sign } from './draw.js';
import { change, follow, run_of } from './runs.js';

const SHOWN = 12;
const unread = row => row.faults.length > 0 && row.faults.every(fault => fault.characteristic === 'not measured');
const said = fault => [fault.characteristic, beside(fault.value, fault.lower, fault.upper), fault.lower !== null && fault.value < fault.lower ? `under ${beside(fault.lower, fault.value)}` : '',
  fault.upper !== null && fault.value > fault.upper ? `over ${beside(fault.upper, fault.value)}` : '', fault.face].filter(Boolean).join(' ');

function holes(rows, heading, state) {
  if (!rows.length) return null;
  const lines = rows.slice(0, SHOWN).map(row => make('li', {}, sign(state), make('bdi', {}, row.hole), make('span', { class: 'small' }, row.faults.map(said).join('; '))));
  return make('div', {}, make('h3', {}, heading), make('ul', { class: 'inputs' }, lines), rows.length > SHOWN ? make('p', { class: 'small' }, `and ${rows.length - SHOWN} more`) : null);
}

// what the live run has found, from its results.json
async function found(job) {
  const results = await ask('/file', { job, kind: 'live', name: 'results.json' });
  const rows = results.holes?.work_list?.rows ?? [], read = rows.filter(row => !unread(row));
  const again = read.filter(row => row.todo === 're-measure' || row.todo === 'second opinion');
  const out = read.filter(row => !again.includes(row) && row.todo !== 'nothing');
  const count = make('p', { class: 'large' }, make('strong', {}, `${results.holes?.measured ?? 0} of ${results.holes?.nominal ?? 0}`), ' holes measured so far');
  const sound = !again.length && !out.length && make('p', {}, sign('conforms'), ' Nothing out so far.');
  return [count, sound || null, holes(again, `Measure again while the plate is on the machine: ${again.length}`, 'not proven'), holes(out, `Out of their limits: ${out.length}`, 'does not conform'),
    make('p', { class: 'small' }, 'Lengths in mm. What is measured so far is no verdict of the plate; run it when the list is whole.'),
    make('a', { href: '/report?' + new URLSearchParams({ job, kind: 'live' }), target: '_blank', rel: 'noopener' }, 'The report of what was measured so far')];
}

export function live(job) {
  const box = make('input', { type: 'checkbox', id: 'follow' }), place = make('div', { role: 'status' }), trouble = make('div'), section = make('section', { class: 'live' });
  let shown = 0;
  box.onchange = async () => {
    trouble.replaceChildren();
    try { await ask('/api/follow', {}, change({ job, follow: box.checked })); }
    catch (refused) { box.checked = false; trouble.replaceChildren(problem(refused.message)); }
  };
  section.append(make('label', { class: 'tick', for: 'follow' }, box, 'Follow the instrument: look at the holes again whenever its file is written'), trouble, place);
  follow(section, async state => {
    const followed = state.followed?.includes(job), run = run_of(state, job, 'live');
    box.checked = Boolean(followed);
    if (!followed) { place.replaceChildren(); shown = 0; return; }
    if (!run || run.number === shown) return;
    if (run.state === 'failed') { shown = run.number; trouble.replaceChildren(problem((run.said ?? '').trim() || 'The file could not be looked at; it is tried again when it is written next.')); return; }
    if (run.state !== 'done') return;
    shown = run.number;
    try { const parts = await found(job); trouble.replaceChildren(); place.replaceChildren(...parts.filter(Boolean)); place.dataset.run = run.number; }
    catch (refused) { trouble.replaceChildren(problem(refused.message)); }
  });
  return section;
}
