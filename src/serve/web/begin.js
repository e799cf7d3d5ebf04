// A new plate: drop what the instrument wrote, say what each file is, answer a few questions, run it.
import { ask } from './ask.js';
import { make, problem, sign } from './draw.js';
import { one } from './files.js';
import { picture } from './picture.js';
import { field, key_table, problems } from './job.js';
import { change } from './runs.js';

const put = (address, values) => ask(address, {}, change(values));
// what a file may be: where the job names it, and the key for its header words
const ROLES = {
  survey: ['survey', 'file', 'columns', 'heights of the surface'],
  nominal: ['holes', 'nominal', 'nominal_columns', 'holes as drawn'],
  measured: ['holes', 'measured', 'measured_columns', 'holes as measured'],
};
const QUESTIONS = [['job', 'units'], ['plate', 'outline'], ['plate', 'diameter'], ['plate', 'width'], ['plate', 'height'], ['plate', 'thickness'],
  ['holes', 'tube_diameter'], ['holes', 'pitch'], ['rules', 'part'], ['survey', 'flatness_limit'], ['holes', 'position_limit']];
const MORE = [['holes', 'face_names'], ['holes', 'align'], ['holes', 'match'], ['holes', 'exit_view'], ['holes', 'coverage'], ['job', 'plate_id'], ['job', 'inspection_date']];
const safe = name => name.normalize('NFC').replace(/[\u0000-\u001f\\/\u007f]+/g, '-').replace(/^[.\s]+/, '').trim();

export async function show(main) {
  document.title = 'New plate';
  const table = await key_table();
  const key_of = (section, key) => table.sections.find(s => s.name === section).keys.find(k => k.key === key);
  let text = '', dropped = [], turn = 0;
  const name = make('input', { id: 'name', type: 'text', autocomplete: 'off', placeholder: 'for example K2 front' });
  const pick = make('input', { id: 'pick', type: 'file', multiple: true, accept: '.csv,.txt' });
  const zone = make('label', { class: 'drop', for: 'pick' }, make('strong', {}, 'Drop the CSV files here'), make('span', {}, 'or choose them'), pick);
  const trouble = make('div', { role: 'status' }), list = make('div'), rest = make('div', { hidden: true });
  const go = make('button', { type: 'button', class: 'main-action', disabled: true }, 'Save and run');
  const place = () => safe(name.value), job = () => `${place()}/${place()}.ini`;

  const edit = async (section, key, value) => {
    const mine = ++turn;
    try {
      const checked = await put('/api/edit', { job: job(), text, section, key, value });
      text = checked.text;
      if (mine === turn) told(checked.problems);
    } catch (refused) { trouble.replaceChildren(problem(refused.message)); }
  };
  // what the plate will be held against, as soon as an answer decides it
  const limits = make('section', { hidden: true }), shape = make('div');
  async function held_against() {
    const asked = text;
    picture({ job: job(), text }).then(drawn => { if (asked === text) shape.replaceChildren(...drawn ? [drawn] : []); });
    try {
      const told = await put('/api/limits', { job: job(), text });
      if (asked !== text) return;
      limits.hidden = !told.limits.length && !told.lacks;
      limits.replaceChildren(make('h2', {}, 'What it will be held against'), told.lacks ? make('p', { class: 'changed' }, sign('changed'), told.lacks) : '',
        make('table', { class: 'columns limits' }, make('thead', {}, make('tr', {}, ['Limit', 'Value', 'From'].map(word => make('th', { scope: 'col' }, word)))),
          make('tbody', {}, told.limits.map(limit => make('tr', {}, make('td', {}, limit.words), make('td', {}, limit.value), make('td', { class: 'small' }, limit.source))))));
    } catch { limits.hidden = true; } // the problem itself is told below
  }
  const told = wrong => {
    held_against();
    go.disabled = wrong.length > 0;
    trouble.replaceChildren(wrong.length ? problems(wrong) : make('p', { class: 'sound' }, 'The program takes this. Save and run it, or answer more first.'));
  };

  // how the reader of a role takes the file
  async function reading(file, role) {
    const [section, key, columns] = ROLES[role];
    let wanted = `[${section}]\n${key} = ${file.name}\n`;
    if (file.columns) wanted += `${columns} = ${file.columns}\n`;
    if (role === 'measured') {
      const drawn = dropped.find(other => other.role === 'nominal');
      if (drawn) wanted += `nominal = ${drawn.name}\n` + (drawn.columns ? `nominal_columns = ${drawn.columns}\n` : '');
    }
    try {
      const { files } = await put('/api/files', { job: job(), text: wanted });
      return files.find(told => told.role === role);
    } catch (refused) { return { role, file: file.name, problems: [{ line: 0, text: refused.message }], first: [] }; }
  }

  // each file gets the role whose reader takes it and uses most of its columns; what no reader takes gets what is left
  async function guess(files) {
    const offers = [];
    for (const file of files) for (const role of Object.keys(ROLES)) {
      const read = await reading(file, role);
      const named = role === 'nominal' && /soll|nominal|drawn/i.test(file.name) ? 2 : 0;
      offers.push({ file, role, worth: read.problems.length ? (role === 'measured' ? 0.5 : 0) : 1 + (read.used?.length ?? 0) + named });
    }
    offers.sort((a, b) => b.worth - a.worth);
    for (const { file, role } of offers)
      if (!file.role && !dropped.some(other => other.role === role)) file.role = role;
    for (const file of files) file.role ??= 'measured';
  }

  async function draw() {
    for (const file of dropped) {
      file.reading = await reading(file, file.role);
      const [section, key, columns] = ROLES[file.role];
      await edit(section, key, file.name);
      if (file.columns) await edit(section, columns, file.columns);
    }
    list.replaceChildren(...dropped.map((file, i) => {
      const role = make('select', { id: 'role-' + i }, Object.entries(ROLES).map(([word, parts]) => make('option', { value: word, selected: word === file.role }, `${word}: ${parts[3]}`)));
      role.onchange = async () => {
        const [section, key] = ROLES[file.role];
        if (!dropped.some(other => other !== file && other.role === file.role)) await edit(section, key, '');
        file.role = role.value; draw();
      };
      const columns = make('input', { id: 'columns-' + i, type: 'text', value: file.columns ?? '', placeholder: 'for example ' + key_of(ROLES[file.role][0], ROLES[file.role][2]).example });
      columns.onchange = () => { file.columns = columns.value.trim(); draw(); };
      const shown = one(file.reading);
      shown.firstChild.after(make('div', { class: 'field' }, make('label', { for: 'role-' + i }, 'This file is'), role),
        make('div', { class: 'field' }, make('label', { for: 'columns-' + i }, 'Its columns'), columns, make('p', { class: 'small' }, 'only where a heading is not understood: heading:meaning, parted by commas')));
      return shown;
    }));
    rest.hidden = false;
  }

  async function take(files) {
    trouble.replaceChildren();
    if (!place()) name.value = safe(files[0].name.replace(/\.[^.]*$/, ''));
    name.disabled = true; // the files stand there now
    const fresh = [];
    for (const file of files) {
      try {
        await ask('/api/upload', { path: `${place()}/${safe(file.name)}` }, { method: 'PUT', body: file, headers: { 'Content-Type': 'application/octet-stream' } });
        const kept = { name: safe(file.name) };
        dropped.push(kept);
        fresh.push(kept);
      } catch (refused) { trouble.append(problem(refused.message)); name.disabled = dropped.length > 0; }
    }
    await guess(fresh);
    if (dropped.length) await draw();
  }
  pick.onchange = () => { if (pick.files.length) take([...pick.files]); };
  zone.ondragover = event => { event.preventDefault(); zone.classList.add('over'); };
  zone.ondragleave = () => zone.classList.remove('over');
  zone.ondrop = event => { event.preventDefault(); zone.classList.remove('over'); if (event.dataTransfer.files.length) take([...event.dataTransfer.files]); };

  go.onclick = async () => {
    go.disabled = true;
    try {
      await put('/api/save', { job: job(), text, version: null });
      await put('/api/run', { job: job() });
      location.hash = '#/plate/' + encodeURIComponent(job());
    } catch (refused) { trouble.replaceChildren(problem(refused.status === 409 ? 'A plate of this name is there already; load this page again and choose another name.' : refused.message)); }
  };
  const fields = keys => keys.map(([section, key]) => field(section, key_of(section, key), edit));
  rest.append(make('section', { class: 'form' }, make('h2', {}, 'The plate'), make('div', { class: 'pairs' }, fields(QUESTIONS)), make('details', {}, make('summary', {}, 'More'), fields(MORE))));
  main.replaceChildren(make('h1', {}, 'New plate'),
    make('section', {}, make('div', { class: 'field' }, make('label', { for: 'name' }, 'Name'), name, make('p', { class: 'small' }, 'of the plate and of its folder; left empty: the first file\u2019s')), zone),
    list, shape, rest, limits, trouble, make('p', { class: 'actions' }, go));
}
