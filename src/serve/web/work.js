// The work list of a plate, to be ticked off while it is worked on. A tick is the shop's note and changes no verdict.
import { ask } from './ask.js';
import { beside, make, moment, number, problem } from './draw.js';
import { change } from './runs.js';

const limits = fault => [fault.lower !== null ? `at least ${beside(fault.lower, fault.value)}` : '', fault.upper !== null ? `at most ${beside(fault.upper, fault.value)}` : ''].filter(Boolean).join(', ');
const wrong = fault => [fault.characteristic, beside(fault.value, fault.lower, fault.upper, fault.standard), limits(fault) && `(${limits(fault)})`, fault.face].filter(Boolean).join(' ');
const place = row => [row.row ? `row ${row.row}, column ${row.column}` : '', `x ${number(row.x)}, y ${number(row.y)}`].filter(Boolean).join('; ');
const doing = row => row.ream ? `${row.todo} to ${number(row.ream.to, 'mm')}` : row.todo;

export async function work(job) {
  const list = await ask('/api/ticks', {}, change({ job }));
  if (!list.count) return null;
  const heading = make('summary'), body = make('tbody'), trouble = make('div'), older = make('p', { class: 'small' });
  const count = told => {
    heading.textContent = `Work list: ${told.done} of ${told.count} done`;
    older.textContent = told.before ? `${told.before} ticks were of an older result, and no longer count.` : '';
  };
  const line = row => {
    const box = make('input', { type: 'checkbox', 'aria-label': `${row.hole}: ${row.todo}, done` }), when = make('span', { class: 'small' });
    const set = done => { box.checked = done > 0; when.textContent = done ? moment(done) : ''; };
    set(row.done);
    box.onchange = async () => {
      box.disabled = true;
      try {
        const told = await ask('/api/tick', {}, change({ job, hole: row.hole, extra: row.extra, todo: row.todo, done: box.checked }));
        const mine = told.rows.find(r => r.hole === row.hole && r.todo === row.todo && r.extra === row.extra);
        set(mine?.done ?? 0); count(told); trouble.replaceChildren();
      } catch (refused) { box.checked = !box.checked; trouble.replaceChildren(problem(refused.message)); }
      box.disabled = false; box.focus();
    };
    return make('tr', {}, make('td', {}, make('label', { class: 'tick' }, box, when)), make('td', {}, make('bdi', {}, row.hole), make('span', { class: 'small' }, place(row))),
      make('td', {}, doing(row)), make('td', {}, row.faults.map(fault => make('div', {}, wrong(fault)))));
  };
  count(list);
  body.append(...list.rows.map(line));
  return make('section', { class: 'work' }, make('details', {}, heading,
    make('p', { class: 'small' }, 'Lengths in mm. A tick is the shop\u2019s own note: the verdict changes only with a new measurement, and a new result begins without ticks. Not a repair instruction.'), older, trouble,
    make('table', { class: 'columns' }, make('thead', {}, make('tr', {}, ['Done', 'Hole', 'What to do', 'What is wrong'].map(word => make('th', { scope: 'col' }, word)))), body),
    list.count > list.rows.length ? make('p', { class: 'small' }, `The first ${list.rows.length} of ${list.count}; worklist.csv has all.`) : null));
}
