// One job: a form made from the program's table of keys, the file's text beside it; both are checked by the program's reader.
import { ask } from './ask.js';
import { make, problem, say } from './draw.js';
import { change } from './runs.js';

addEventListener('beforeunload', event => { if (drafts.size) event.preventDefault(); });

const put = (address, values) => ask(address, {}, change(values));
const words = key => key.replaceAll('_', ' ');

let table; // of keys, asked for once
const drafts = new Map(); // what was typed and not saved, as long as this page is open

export async function key_table() {
  table ??= await ask('/api/keys');
  return table;
}

export function field(section, key, wanted) {
  const id = `key-${section}-${key.key}`.replaceAll(' ', '_');
  const hint = [key.help, key.units && `in ${key.units}`, key.range, key.standard !== undefined && `absent: ${key.standard}`].filter(Boolean).join('; ');
  const choices = key.kind === 'choice' ? key.choices : key.kind === 'yes-no' ? ['yes', 'no'] : null;
  const input = choices
    ? make('select', { id }, make('option', { value: '' }, key.standard ? `${key.standard} (when left out)` : ''), choices.map(word => make('option', { value: word }, word)))
    : make('input', { id, type: 'text', autocomplete: 'off', spellcheck: 'false', placeholder: key.example ? 'for example ' + key.example : null });
  input.setAttribute('aria-describedby', id + '-hint');
  input.dataset.section = section; input.dataset.key = key.key;
  input.addEventListener('change', () => wanted(section, key.key, input.value));
  return make('div', { class: 'field' }, make('label', { for: id }, words(key.key)), input,
    make('p', { class: 'small', id: id + '-hint' }, hint), make('p', { class: 'wrong', id: id + '-wrong' }));
}

// all that is wrong with a text, each with a way to its line
export const problems = (list, show_line) => make('div', { class: 'problem' }, list.length > 1 ? make('strong', {}, `${list.length} things to mend`) : null,
  list.map(({ line, text }) => make('p', {}, line && show_line ? make('button', { type: 'button', class: 'line', onclick: () => show_line(line) }, `Line ${line}`) : null, line && show_line ? ' ' : '', text)));

// sections as the table has them; those with a name of their own as the text has them
function sections_of(form) {
  const found = form.sections.map(section => section.name), list = [];
  for (const section of table.sections) {
    const named = found.filter(name => name.startsWith(section.name + ' '));
    if (section.name === 'instrument' || section.name === 'layer') list.push(...named.map(name => ({ ...section, name })));
    else list.push(section);
  }
  return list;
}

export async function show(main, job) {
  await key_table();
  let file = await put('/api/job', { job }), timer, turn = 0, shape = '';
  if (drafts.has(job)) file = drafts.get(job).file;
  let text = drafts.get(job)?.text ?? file.text;
  document.title = 'Job ' + job;
  const area = make('textarea', { id: 'text', spellcheck: 'false', rows: 30, wrap: 'off', 'aria-describedby': 'problem' });
  const form = make('div', { class: 'form' }), trouble = make('div', { id: 'problem', role: 'status' }), clash = make('div');
  const save = make('button', { type: 'button', class: 'main-action' }, 'Save');
  area.value = text;

  const set = async (section, key, value) => {
    const mine = ++turn;
    try { fill(await put('/api/edit', { job, text, section, key, value }), mine, true); }
    catch (refused) { trouble.replaceChildren(problem(refused.message)); }
  };

  const build = checked => {
    const now = checked.sections.map(section => section.name).filter(name => name.includes(' ')).join('\n') + '!';
    if (now === shape) return;
    shape = now;
    form.replaceChildren(...sections_of(checked).map(section => make('details', { 'data-section': section.name, open: checked.sections.some(s => s.name === section.name) },
      make('summary', {}, make('strong', {}, section.name), ' ', make('span', { class: 'small' }, section.help)),
      section.keys.map(key => field(section.name, key, set)))));
  };

  const mark = checked => {
    for (const node of form.querySelectorAll('[aria-invalid]')) node.removeAttribute('aria-invalid');
    for (const node of form.querySelectorAll('.wrong')) node.textContent = '';
    const found = checked.problems;
    trouble.replaceChildren();
    if (!found.length) { trouble.append(make('p', { class: 'sound' }, 'The program takes this job file.')); return; }
    trouble.append(problems(found, show_line));
    const lines = new Map(found.map(wrong => [wrong.line, wrong]));
    for (const section of checked.sections) for (const entry of section.entries) {
      const wrong = lines.get(entry.line);
      const input = wrong && form.querySelector(`[data-section="${CSS.escape(section.name)}"][data-key="${CSS.escape(entry.key)}"]`);
      if (!input) continue;
      input.setAttribute('aria-invalid', 'true');
      input.closest('details').open = true;
      document.getElementById(input.id + '-wrong').textContent = wrong.text;
    }
  };

  const show_line = number => {
    const lines = text.split('\n'), from = lines.slice(0, number - 1).join('\n').length + (number > 1 ? 1 : 0);
    area.focus();
    area.setSelectionRange(from, from + lines[number - 1].length);
    area.scrollTop = (number - 5) * area.scrollHeight / lines.length;
  };

  function fill(checked, mine, take_text) {
    if (mine !== turn) return;
    if (take_text) { text = checked.text; area.value = text; }
    build(checked);
    const values = new Map(checked.sections.flatMap(section => section.entries.map(entry => [section.name + '\n' + entry.key, entry.value])));
    for (const input of form.querySelectorAll('[data-key]'))
      if (input !== document.activeElement || take_text) {
        const value = values.get(input.dataset.section + '\n' + input.dataset.key) ?? '';
        if (input.tagName === 'SELECT' && value && ![...input.options].some(option => option.value === value)) input.append(make('option', { value }, value));
        input.value = value;
      }
    mark(checked);
    save.textContent = text === file.text ? 'Saved' : 'Save';
    save.disabled = text === file.text;
    keep();
  }

  const keep = () => text === file.text ? drafts.delete(job) : drafts.set(job, { text, file });

  const check = async () => {
    const mine = ++turn;
    try { fill(await put('/api/check', { job, text }), mine, false); }
    catch (refused) { trouble.replaceChildren(problem(refused.message)); }
  };
  area.addEventListener('input', () => { text = area.value; keep(); save.disabled = false; save.textContent = 'Save'; clearTimeout(timer); timer = setTimeout(check, 300); });

  const store = async version => {
    const sent = text;
    try {
      const saved = await put('/api/save', { job, text: sent, version });
      file = { text: sent, version: saved.version };
      keep();
      clash.replaceChildren();
      say('Saved.');
      check();
    } catch (refused) {
      if (refused.status === 409 && refused.body?.conflict !== undefined) conflict(refused.body);
      else clash.replaceChildren(problem(refused.message));
    }
  };
  save.onclick = () => store(file.version);

  // somebody else wrote the file meanwhile: nothing is lost, the person chooses
  function conflict(body) {
    const theirs = body.conflict ?? '';
    clash.replaceChildren(make('div', { class: 'problem', role: 'alert' },
      make('p', {}, 'The file was changed elsewhere while this page was open. Nothing has been saved.'),
      make('details', {}, make('summary', {}, 'The file as it is now'), make('pre', { class: 'first' }, theirs)),
      make('p', { class: 'actions' },
        make('button', { type: 'button', onclick: () => store(body.version) }, 'Keep mine'),
        make('button', { type: 'button', onclick: () => { file = { text: theirs, version: body.version }; text = theirs; area.value = text; clash.replaceChildren(); check(); } }, 'Take the other'))));
  }

  main.replaceChildren(make('h1', {}, 'Job'), make('p', { class: 'quiet' }, job),
    make('p', { class: 'actions' }, save, make('a', { class: 'button', href: '#/plate/' + encodeURIComponent(job) }, 'To the plate'), make('a', { class: 'button', href: '#/files/' + encodeURIComponent(job) }, 'How its files are read')),
    clash, trouble, make('div', { class: 'sides' }, make('section', {}, make('h2', {}, 'Form'), form), make('section', {}, make('h2', {}, make('label', { for: 'text' }, 'Text of the file')), area)));
  await check();
}
