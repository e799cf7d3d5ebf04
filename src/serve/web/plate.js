// One plate: run it, see its verdict, whether its files are still the same, and its report as it was written.
import { ask } from './ask.js';
import { make, number, problem, said, say, sign } from './draw.js';
import { live } from './live.js';
import { work } from './work.js';
import { RUN_SIGNS, RUN_WORDS, busy, change, ended_run, follow, run_of } from './runs.js';

const STATE_WORDS = { same: 'as when it was run', changed: 'changed since', gone: 'no longer there', outside: 'outside this folder, not looked at' };
const STATE_SIGNS = { same: 'conforms', changed: 'changed', gone: 'changed', outside: 'not judged' };
// the report's files, by what a person wants them for
const FILES = [['certificate.pdf', 'Certificate'], ['results.xlsx', 'Spreadsheet'], ['worklist.pdf', 'Work list'], ['fitters-sheet.pdf', 'Fitter\u2019s sheet'], ['bundle_tubes.csv', 'Tubes'], ['setup-sheet.pdf', 'Set-up sheet'], ['results.qif', 'Exchange file'], ['results.qif.gz', 'Exchange file'],
  ['holes.csv', 'Holes'], ['results.json', 'Results as data']];
function fact(name, value, kind) {
  return value === '' || value === undefined ? null : make('div', { class: kind }, make('dt', {}, name), make('dd', {}, value));
}

function facts(f) {
  return make('dl', { class: 'facts' },
    fact('Flatness', f.flatness ? number(f.flatness.value, 'mm') + (f.flatness.limit ? ` (limit ${number(f.flatness.limit, 'mm')})` : '') : ''),
    fact('Holes measured', f.holes ? `${f.holes.measured} of ${f.holes.nominal}` : ''),
    fact('Tubes', f.tubes ? `${f.tubes.count}: ${f.tubes.straight} straight, ${f.tubes.bending} by bending, ${f.tubes.stuck} not` : ''),
    fact('Findings', f.findings === undefined ? '' : String(f.findings)),
    fact('Hold-down', f.holddown === undefined ? '' : f.holddown ? 'ready' : 'not ready'),
    fact('Basis', f.basis, 'wide'));
}

function inputs(list) {
  const others = list.filter(input => input.state !== 'same');
  const lines = list.map(input => make('li', {}, sign(STATE_SIGNS[input.state]), make('span', {}, input.file), make('span', { class: 'small' }, STATE_WORDS[input.state])));
  const heading = others.length ? 'Files that this result was made from: not all are the same any more' : 'Files that this result was made from: all the same';
  return make('section', {}, make('details', { open: others.length > 0 }, make('summary', {}, heading), make('ul', { class: 'inputs' }, lines)));
}

function stages(run) {
  return make('ol', { class: 'stages' }, run.stages.map((stage, i) => {
    const last = i === run.stages.length - 1, until = last ? run.seconds : run.stages[i + 1].begun;
    const going = last && run.state === 'running';
    const words = going && stage.share > 0 ? `${Math.round(100 * stage.share)} %` : `${(until - stage.begun).toFixed(1)} s`;
    return make('li', { class: going ? 'going' : null }, make('span', {}, stage.name), make('span', { class: 'small' }, words));
  }));
}

// the part of the page that follows the run; `again` when one has ended well
// `shown`: the number of the run whose result is shown already; `links`: where else to go
function runs(job, has_report, shown, links, again) {
  const place = make('div'), stop = make('button', { type: 'button' }, 'Stop');
  const start = make('button', { type: 'button', class: 'main-action' }, has_report ? 'Run again' : 'Run');
  const line = make('p', { class: 'run-line', role: 'status' }), list = make('div'), wrong = make('div');
  let current = null;
  const refused = error => { wrong.replaceChildren(problem(error.message)); start.disabled = false; };
  start.onclick = () => { start.disabled = true; wrong.replaceChildren(); ask('/api/run', {}, change({ job })).catch(refused); };
  stop.onclick = () => ask('/api/stop', {}, change({ number: current.number })).catch(refused);
  place.append(make('p', { class: 'actions' }, start, stop, links), wrong, line, list);
  follow(place, state => {
    current = run_of(state, job);
    const going = busy(current);
    start.hidden = going; stop.hidden = !going; start.disabled = false;
    if (!current) return;
    if (current.state === 'done') start.textContent = 'Run again';
    line.replaceChildren(sign(RUN_SIGNS[current.state]), `${RUN_WORDS[current.state]}, ${current.seconds.toFixed(1)} s`);
    line.className = 'run-line' + (current.state === 'running' ? ' working' : '');
    if (going) list.replaceChildren(stages(current));
    else list.replaceChildren(make('details', {}, make('summary', {}, 'Steps'), stages(current)));
    if (current.said) wrong.replaceChildren(problem(current.said.trim()));
    if (current.state === 'done' && current.number !== shown) { shown = current.number; say('Done.'); again(); }
  });
  return place;
}

// where else to go from a plate; of a bundle's set nowhere: it is no job
const LINKS = [['job', 'Job'], ['files', 'How its files are read'], ['compare', 'What changed'], ['correct', 'Corrected list']];
const links_of = (job, plate) => LINKS.filter(([page]) => plate.report || page === 'job' || page === 'files').map(([page, words]) => make('a', { class: 'button', href: `#/${page}/` + encodeURIComponent(job) }, words));

const file_link = (job, name) => '/file?' + new URLSearchParams({ job, name });

function downloads(plate) {
  const links = FILES.filter(([name]) => plate.files.includes(name)).map(([name, words]) => make('a', { class: 'button', href: file_link(plate.job, name), download: name }, words));
  return make('p', { class: 'actions' }, links, make('a', { class: 'button', href: '/archive?' + new URLSearchParams({ job: plate.job }), download: '' }, 'Whole folder (ZIP)'));
}

async function result(place, job) {
  const plate = await ask('/api/plate', { job });
  const identity = plate.identity ?? {}, title = identity.plate_id ?? identity.title ?? job;
  document.title = title;
  const head = make('div', { class: 'verdict' }, said(plate.facts?.verdict ?? 'not run yet', 'large'));
  place.replaceChildren(head);
  if (!plate.report) return { plate, title, identity, report: false };
  place.append(facts(plate.facts), downloads(plate));
  const below = [await work(job).catch(refused => problem(refused.message)), inputs(plate.inputs), make('iframe', { class: 'report', title: 'Report of ' + title, sandbox: 'allow-scripts', src: '/report?' + new URLSearchParams({ job }) })];
  return { plate, title, identity, report: true, below };
}

export async function show(main, job) {
  const place = make('div'), below = make('div'), heading = make('h1'), line = make('p', { class: 'quiet' });
  const fill = async () => {
    const shown = await result(place, job);
    heading.textContent = shown.title;
    line.textContent = [shown.identity.plate_id ? shown.identity.title : null, job].filter(Boolean).join(' · ');
    below.replaceChildren(...(shown.below ?? []).filter(Boolean));
    return shown;
  };
  const shown = ended_run(job), first = await fill();
  main.replaceChildren(heading, line, make('section', {}, place, runs(job, first.report, shown, first.plate.bundle ? [] : links_of(job, first.plate), fill)), ...first.plate.bundle ? [] : [live(job)], below);
}
