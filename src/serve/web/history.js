// The history of many plates: one file in the folder, reports added to it, its page.
import { ask } from './ask.js';
import { make } from './draw.js';
import { asked, choice, plates_with_report } from './asked.js';

export async function show(main) {
  document.title = 'History';
  const [{ histories }, rows] = await Promise.all([ask('/api/histories'), plates_with_report()]);
  const named = rows.filter(row => row.plate), plates = choice(named, () => true);
  const file = make('select', { id: 'file' }, histories.map(name => make('option', { value: name }, name)), histories.includes('shop.history') ? null : make('option', { value: 'shop.history' }, 'shop.history (new)'));
  const there = () => histories.includes(file.value);
  const work = asked({
    subject: () => file.value, kind: 'history', button: 'Add the chosen plates, and show', title: 'History of the plates', even_so: true,
    orders: () => {
      const add = plates.jobs();
      if (!add.length && !there()) throw new Error('Choose plates first: a new history begins with them.');
      return add.length ? [{ add }, {}] : [{}];
    },
  });
  file.onchange = () => work.show();
  main.replaceChildren(make('h1', {}, 'What many plates say'), make('p', { class: 'actions' }, make('a', { class: 'button', href: '#/' }, 'To the plates')),
    make('section', {}, make('div', { class: 'field' }, make('label', { for: 'file' }, 'History'), file, make('p', { class: 'small' }, 'a file in this folder; what it knows already is passed over')),
      make('details', {}, make('summary', {}, `Plates to add: ${named.length}`), plates.node), rows.length > named.length ? make('p', { class: 'small' }, `${rows.length - named.length} more without a plate_id in the job can\u2019t be told apart in a history.`) : null, work.node));
  await work.show();
}
