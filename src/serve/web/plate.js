// One plate: its verdict, whether its files are still the same, and its report as it was written.
import { ask } from './ask.js';
import { make, number, said, sign } from './draw.js';

const STATE_WORDS = { same: 'as when it was run', changed: 'changed since', gone: 'no longer there', outside: 'outside this folder, not looked at' };
const STATE_SIGNS = { same: 'conforms', changed: 'changed', gone: 'changed', outside: 'not judged' };
// the report's files, by what a person wants them for
const FILES = [['certificate.pdf', 'Certificate'], ['results.xlsx', 'Spreadsheet'], ['results.qif', 'Exchange file'], ['holes.csv', 'Holes'], ['results.json', 'Results as data']];

function fact(name, value) {
  return value === '' || value === undefined ? null : make('div', {}, make('dt', {}, name), make('dd', {}, value));
}

function facts(f) {
  return make('dl', { class: 'facts' },
    fact('Flatness', f.flatness ? number(f.flatness.value, 'mm') + (f.flatness.limit ? ` (limit ${number(f.flatness.limit, 'mm')})` : '') : ''),
    fact('Holes measured', f.holes ? `${f.holes.measured} of ${f.holes.nominal}` : ''),
    fact('Findings', f.findings === undefined ? '' : String(f.findings)),
    fact('Hold-down', f.holddown === undefined ? '' : f.holddown ? 'ready' : 'needs more'),
    fact('Basis', f.basis));
}

function inputs(list) {
  const others = list.filter(input => input.state !== 'same');
  const lines = list.map(input => make('li', {}, sign(STATE_SIGNS[input.state]), make('span', {}, input.file), make('span', { class: 'small' }, STATE_WORDS[input.state])));
  const heading = others.length ? 'Files that this result was made from: not all are the same any more' : 'Files that this result was made from: all the same';
  return make('section', {}, make('details', { open: others.length > 0 }, make('summary', {}, heading), make('ul', { class: 'inputs' }, lines)));
}

const file_link = (job, name) => '/file?' + new URLSearchParams({ job, name });

export async function show(main, job) {
  const plate = await ask('/api/plate', { job });
  const identity = plate.identity ?? {};
  const title = identity.plate_id ?? identity.title ?? job;
  document.title = title;
  const head = make('section', {}, make('div', { class: 'verdict' }, said(plate.facts?.verdict ?? 'not run yet', 'large')));
  main.replaceChildren(make('h1', {}, title), make('p', { class: 'quiet' }, [identity.plate_id ? identity.title : null, job].filter(Boolean).join(' · ')), head);
  if (!plate.report) {
    head.append(make('p', {}, 'There is no report yet. Run it in a terminal with: plateproof inspect ' + job));
    return;
  }
  head.append(facts(plate.facts));
  head.append(make('p', { class: 'actions' }, FILES.filter(([name]) => plate.files.includes(name)).map(([name, words]) => make('a', { class: 'button', href: file_link(job, name), download: name }, words))));
  main.append(inputs(plate.inputs),
    make('iframe', { class: 'report', title: 'Report of ' + title, sandbox: 'allow-scripts', src: '/report?' + new URLSearchParams({ job }) }));
}
