// Questions to the program, and nothing else that leaves this page.
export class Refused extends Error {
  constructor(status, text, body) { super(text); this.status = status; this.body = body; }
}

const WORDS = {
  401: 'This page is no longer known to the program. Open the address that it printed in the terminal.',
  403: 'The browser asked in the name of another page; nothing was done.',
  429: 'Too many questions at once; wait a moment.',
};

export async function ask(address, values = {}, options = {}) {
  const query = new URLSearchParams(values).toString();
  let answer;
  try {
    answer = await fetch(address + (query && '?' + query), options);
  } catch {
    throw new Refused(0, 'The program does not answer. Was it ended? Start it again in the terminal: plateproof serve');
  }
  let body = null;
  try { body = await answer.json(); } catch { /* no content */ }
  if (answer.ok) return body;
  throw new Refused(answer.status, body?.problem ?? WORDS[answer.status] ?? `The program refused (${answer.status}).`, body);
}
