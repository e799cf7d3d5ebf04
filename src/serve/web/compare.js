// Two rounds of a plate, or two reports, side by side: what was repaired, what is new, worse, unchanged.
import { ask } from './ask.js';
import { make, said, sign } from './draw.js';
import { asked, back_to, plates_with_report } from './asked.js';

const CHANGES = [['repaired', 'conforms'], ['better', 'conforms'], ['unchanged', 'not judged'], ['worse', 'does not conform'], ['new', 'does not conform'], ['not judged now', 'not proven']];
const name_of = side => side.round ? `after ${side.round}` : side.folder ?? '';

function side_by_side(told) {
  const card = (words, side) => make('div', {}, make('p', { class: 'small' }, `${words}: ${name_of(side)}`), said(side.verdict, 'middle'));
  return make('div', {}, make('div', { class: 'states' }, card('Before', told.before), card('Now', told.now)),
    make('dl', { class: 'facts changes' }, CHANGES.filter(([change]) => told.changes[change] !== undefined).map(([change, state]) => make('div', {}, make('dt', {}, sign(state), change), make('dd', {}, String(told.changes[change]))))));
}

export async function show(main, job) {
  document.title = 'Compare ' + job;
  const [plate, rows] = await Promise.all([ask('/api/plate', { job }), plates_with_report()]);
  const others = rows.filter(row => row.job !== job), rounds = plate.facts?.earlier_rounds > 0;
  const what = make('select', { id: 'with' }, rounds ? make('option', { value: '' }, 'an earlier round of this plate') : null, others.map(row => make('option', { value: row.job }, [row.plate ?? row.title, row.inspected, row.job].filter(Boolean).join(' \u00b7 '))));
  const first = make('input', { id: 'first', type: 'number', min: 1, value: 1 }), second = make('input', { id: 'second', type: 'number', min: 2, value: 2 });
  const of_rounds = make('div', {}, make('div', { class: 'field' }, make('label', { for: 'first' }, 'Before: after round'), first), make('div', { class: 'field' }, make('label', { for: 'second' }, 'Now: after round'), second));
  what.onchange = () => { of_rounds.hidden = what.value !== ''; };
  what.onchange();
  const work = asked({
    subject: () => job, kind: 'compared', button: 'Compare', title: 'Comparison', above: side_by_side,
    orders: () => [what.value ? { with: what.value } : { rounds: [Number(first.value), Number(second.value)] }],
  });
  main.replaceChildren(make('h1', {}, 'What changed'), make('p', { class: 'quiet' }, job), make('p', { class: 'actions' }, back_to(job)));
  if (!plate.report) main.append(make('section', {}, make('p', {}, 'This plate has no report yet; run it first.')));
  else if (!rounds && !others.length) main.append(make('section', {}, make('p', {}, 'There is nothing to compare with: no other plate has a report, and this one was measured in one round. Holes that are measured again go into the same list with a higher number in a column round.')));
  else main.append(make('section', { class: 'form' }, make('div', { class: 'field' }, make('label', { for: 'with' }, 'Compare this report with'), what, make('p', { class: 'small' }, 'of a plate that was measured anew the report before; this one is the later')), of_rounds, work.node));
  await work.show();
}
