// The list of plates: every job of the folder, its verdict first.
import { ask } from './ask.js';
import { make, moment, number, problem, said, sign } from './draw.js';

const ORDER = ['does not conform', 'cannot be read', 'not proven', 'hold-down not ready', 'not run yet', 'not judged', 'hold-down ready', 'conforms', 'being read'];
const state = row => row.reading ? 'being read' : row.problem ? 'cannot be read' : row.verdict ?? 'not run yet';
const holes = row => row.holes ? `${row.holes.measured ?? 0} of ${row.holes.nominal ?? 0}` : '';
const ready = row => row.holddown === undefined ? '' : row.holddown ? 'ready' : 'not ready';

// heading, what sorts by it, what stands in it
const COLUMNS = [
  ['Verdict', row => ORDER.indexOf(state(row)), row => said(state(row)), 'verdict-cell'],
  ['Plate', row => (row.plate ?? row.title ?? row.job).toLowerCase(), name, 'name'],
  ['Flatness', row => row.flatness?.value ?? -1, row => row.flatness ? number(row.flatness.value, 'mm') : '', 'whole'],
  ['Holes measured', row => row.holes?.measured ?? -1, holes],
  ['Findings', row => row.findings ?? -1, row => row.findings === undefined ? '' : String(row.findings)],
  ['Hold-down', ready, ready],
  ['Inspected', row => row.inspected ?? '', row => row.inspected ?? '', 'whole'],
  ['Run', row => row.ran ?? 0, row => moment(row.ran)],
];

let rows = [], sorted = { column: 0, down: false }, words = '';

export const link = row => '#/plate/' + encodeURIComponent(row.job);

function name(row) {
  const inside = [
    make('a', { href: link(row) }, row.plate ?? row.title ?? row.job),
    make('span', { class: 'small' }, [row.bundle ? 'bundle' : null, row.title !== undefined && row.plate !== undefined ? row.title : null, row.job].filter(Boolean).join(' · ')),
  ];
  if (row.changed?.length)
    inside.push(make('span', { class: 'changed' }, sign('changed'), 'changed since: ' + row.changed.join(', ')));
  if (row.problem) inside.push(make('p', { class: 'problem' }, row.problem));
  return inside;
}

function matches(row) {
  const text = [row.job, row.title, row.plate, row.role, row.order, row.drawing, row.stage, row.inspected, state(row)].join(' ').toLowerCase();
  return words.toLowerCase().split(/\s+/).every(word => text.includes(word));
}

function cells(row) {
  return COLUMNS.map(([heading, , show, kind]) => {
    const inside = show(row);
    const named = kind === 'name' || kind === 'verdict-cell'; // say themselves what they are
    return make('td', { class: kind, 'data-of': named ? null : heading }, inside === '' ? [] : inside);
  });
}

function fill(body, count) {
  const [, key] = COLUMNS[sorted.column];
  const shown = rows.filter(matches).sort((a, b) => {
    const x = key(a), y = key(b);
    return (x < y ? -1 : x > y ? 1 : a.job < b.job ? -1 : 1) * (sorted.down ? -1 : 1);
  });
  body.replaceChildren(...shown.map(row => make('tr', {
    onclick: event => { if (!event.target.closest('a')) location.hash = link(row); },
  }, cells(row))));
  count.textContent = shown.length === rows.length ? `${rows.length} ${rows.length === 1 ? 'plate' : 'plates'}` : `${shown.length} of ${rows.length} plates`;
}

function headings(again) {
  return COLUMNS.map(([heading], i) => make('th', {
    scope: 'col',
    'aria-sort': sorted.column === i ? (sorted.down ? 'descending' : 'ascending') : null,
  }, make('button', { type: 'button', onclick: () => { sorted = { column: i, down: sorted.column === i && !sorted.down }; again(); } }, heading)));
}

// up and down from link to link, as in a list
function keys(event) {
  if (event.key !== 'ArrowDown' && event.key !== 'ArrowUp') return;
  const links = [...document.querySelectorAll('.plates tbody a')];
  const at = links.indexOf(document.activeElement);
  const next = links[at + (event.key === 'ArrowDown' ? 1 : -1)];
  if (next) { next.focus(); event.preventDefault(); }
}

export async function show(main) {
  const list = await ask('/api/plates');
  rows = list.rows;
  // the first look at many plates: what is read by now, and the rest as it comes
  const rest = async () => {
    while (rows.some(row => row.reading) && main.isConnected) {
      rows = (await ask('/api/plates')).rows;
      fill(body, count);
    }
  };
  document.getElementById('folder').textContent = 'in ' + list.folder;
  document.title = 'Plates in ' + list.folder;
  const body = make('tbody'), count = make('p', { class: 'quiet', role: 'status' }), head = make('tr');
  const again = () => { head.replaceChildren(...headings(() => { again(); head.children[sorted.column].firstChild.focus(); })); fill(body, count); };
  const find = make('input', { type: 'search', id: 'find', value: words, autocomplete: 'off', oninput: event => { words = event.target.value; fill(body, count); } });
  again();
  main.replaceChildren(
    make('h1', {}, 'Plates'),
    make('p', { class: 'actions' }, make('a', { class: 'button main-action', href: '#/begin' }, 'New plate'), rows.some(row => row.report) ? make('a', { class: 'button', href: '#/history' }, 'What many plates say') : null),
    make('div', { class: 'tools' }, make('label', {}, 'Find by name, order, drawing or verdict', find), count),
    rows.length
      ? make('table', { class: 'plates', onkeydown: keys }, make('thead', {}, head), body)
      : make('section', {}, make('h2', {}, 'No plate here yet'), make('p', {}, 'A plate is a job file, NAME.ini, in this folder or up to two folders down. Begin one with the files that your instrument wrote.')),
  );
  if (rows.some(row => row.reading)) setTimeout(rest);
  if (list.more) main.prepend(problem(`${list.more} more job files are not listed; serve a smaller folder.`));
}
