// Which page is shown: by what follows # in the address.
import { make, problem } from './draw.js';
import * as plates from './plates.js';
import * as plate from './plate.js';
import * as job from './job.js';
import * as begin from './begin.js';
import * as files from './files.js';
import * as compare from './compare.js';
import * as correct from './correct.js';
import * as history from './history.js';

const PAGES = [
  [/^#\/plate\/(.+)$/, (main, name) => plate.show(main, decodeURIComponent(name))],
  [/^#\/job\/(.+)$/, (main, name) => job.show(main, decodeURIComponent(name))],
  [/^#\/files\/(.+)$/, (main, name) => files.show(main, decodeURIComponent(name))],
  [/^#\/compare\/(.+)$/, (main, name) => compare.show(main, decodeURIComponent(name))],
  [/^#\/correct\/(.+)$/, (main, name) => correct.show(main, decodeURIComponent(name))],
  [/^#\/history$/, main => history.show(main)],
  [/^#\/begin$/, main => begin.show(main)],
  [/^/, main => plates.show(main)],
];

let turn = 0; // the page that was asked for last wins

async function go() {
  const mine = ++turn, main = document.getElementById('main');
  const [pattern, show] = PAGES.find(([p]) => p.test(location.hash));
  const [, ...parts] = location.hash.match(pattern);
  const place = make('div');
  try {
    await show(place, ...parts);
  } catch (refused) {
    place.replaceChildren(problem(refused.message));
  }
  if (mine !== turn) return;
  main.replaceChildren(place);
  main.focus({ preventScroll: true });
  scrollTo(0, 0);
  document.documentElement.dataset.ready = location.hash || '#/';
}

// to the content without another page
document.querySelector('.skip').addEventListener('click', event => {
  event.preventDefault();
  document.getElementById('main').focus();
});

addEventListener('hashchange', go);
go();
