// A corrected list for the next plate, from what repeats on plates that were measured.
import { make } from './draw.js';
import { all_plates, asked, back_to, choice } from './asked.js';

export async function show(main, job) {
  document.title = 'Corrected list for ' + job;
  const rows = await all_plates(), machine = rows.find(row => row.job === job)?.machine;
  const plates = choice(rows.filter(row => row.report && row.holes?.measured && row.job !== job), row => Boolean(machine) && row.machine === machine);
  const work = asked({
    subject: () => job, kind: 'correction', button: 'Work out the list', title: 'Correction',
    orders: () => {
      if (!plates.jobs().length) throw new Error('Choose the measured plates to learn from: of the same machine, since it was last changed.');
      return [{ from: plates.jobs() }];
    },
  });
  main.replaceChildren(make('h1', {}, 'A corrected list for this plate'), make('p', { class: 'quiet' }, job), make('p', { class: 'actions' }, back_to(job)),
    make('section', {}, make('h2', {}, 'Learn from'), make('p', { class: 'small' }, 'Plates of this machine since its last change, laid the same way; each plate once. With one or two nothing is promised.'),
      plates.node.childElementCount ? plates.node : make('p', {}, 'No other plate here has a report of its holes yet.'), work.node));
  await work.show();
}
