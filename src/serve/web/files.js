// How the files of a job are read, as the program itself reads them.
import { ask } from './ask.js';
import { make, problem, sign } from './draw.js';
import { picture } from './picture.js';
import { change } from './runs.js';

const MARKS = { ',': 'comma', ';': 'semicolon', '\t': 'tab', '.': 'point', '': 'none seen' };

function columns(file) {
  const rows = file.used.map(column => make('tr', {}, make('td', {}, column.header || '(no header)'), make('td', {}, column.column + (column.mapped ? ' (by the job file)' : '')),
    make('td', {}, column.unit ? `${column.unit}, ${column.origin}` : '')));
  return make('table', { class: 'columns' }, make('thead', {}, make('tr', {}, ['In the file', 'read as', 'unit, and where it is from'].map(word => make('th', { scope: 'col' }, word)))), make('tbody', {}, rows));
}

function reading(file) {
  if (!file.used) return null;
  const skipped = Object.entries(file.skipped).filter(([, count]) => count).map(([why, count]) => `${count} ${why}`);
  const facts = [['Rows read', String(file.rows)], ['Cells parted by', MARKS[file.delimiter] ?? file.delimiter], ['Decimal mark', MARKS[file.decimal] ?? file.decimal],
    ['Header', file.header_line ? `line ${file.header_line}` : 'none'], ['Lines skipped', skipped.join(', ') || 'none']];
  return [make('dl', { class: 'facts' }, facts.map(([name, value]) => make('div', {}, make('dt', {}, name), make('dd', {}, value)))), columns(file),
    file.ignored.length ? make('p', { class: 'changed' }, sign('changed'), 'Not read: ' + file.ignored.join(', ')) : null];
}

export function one(file) {
  const wrong = file.problems.map(p => make('li', {}, (p.line ? `line ${p.line}${p.column ? `, column ${p.column}` : ''}: ` : '') + p.text));
  return make('section', {}, make('h2', {}, `${file.file} `, make('span', { class: 'small' }, file.role.replaceAll('_', ' '))),
    wrong.length ? make('div', { class: 'problem' }, make('p', {}, 'A run would refuse this file:'), make('ul', {}, wrong), file.more ? 'There may be more; mend these first.' : null) : null,
    reading(file), (file.remarks ?? []).map(text => make('p', { class: 'changed' }, sign('changed'), text)),
    file.first.length ? make('details', {}, make('summary', {}, 'Its first lines'), make('pre', { class: 'first' }, file.first.join('\n'))) : null);
}

export async function show(main, job) {
  document.title = 'Files of ' + job;
  const links = make('p', { class: 'actions' }, make('a', { class: 'button', href: '#/job/' + encodeURIComponent(job) }, 'Correct it in the job'), make('a', { class: 'button', href: '#/plate/' + encodeURIComponent(job) }, 'To the plate'));
  let body;
  try {
    const { files } = await ask('/api/files', {}, change({ job }));
    body = files.length ? [await picture({ job }), ...files.map(one)].filter(Boolean) : [make('section', {}, make('p', {}, 'This job names no file yet.'))];
  } catch (refused) { body = [problem(refused.message)]; }
  main.replaceChildren(make('h1', {}, 'How its files are read'), make('p', { class: 'quiet' }, job), links, ...body);
}
