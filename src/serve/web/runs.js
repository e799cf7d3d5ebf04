// Runs as they happen: one stream of events, which the browser opens again by itself when it was lost.
let known = { runs: [], followed: [] };
const listeners = new Set();

const source = new EventSource('/api/events');
source.onmessage = event => {
  known = JSON.parse(event.data);
  for (const listener of listeners) listener(known);
};
source.onerror = () => { for (const listener of listeners) listener({ ...known, lost: source.readyState !== EventSource.OPEN }); };

// time goes on between two events
setInterval(() => {
  const going = known.runs.filter(run => run.state === 'running');
  for (const run of going) run.seconds += 0.5;
  if (going.length) for (const listener of listeners) listener(known);
}, 500);

// calls back now and at every change, until the node is no longer in the page
export function follow(node, listener) {
  const call = state => {
    if (call.shown && !node.isConnected) { listeners.delete(call); return; }
    call.shown ||= node.isConnected;
    listener(state);
  };
  listeners.add(call);
  call(known);
}

// the number of the job's run that has ended, as far as is known now
export const ended_run = job => { const run = run_of(known, job); return run?.state === 'done' ? run.number : 0; };

export const run_of = (state, job, kind = 'report') => state.runs.find(run => run.job === job && run.kind === kind);
export const RUN_SIGNS = { waiting: 'waiting', running: 'running', stopping: 'stopped', stopped: 'stopped', failed: 'cannot be read', done: 'conforms' };
export const RUN_WORDS = { waiting: 'waits for a free processor', running: 'running', stopping: 'is being stopped', stopped: 'was stopped; the result from before is untouched', failed: 'did not come to a result', done: 'done' };
export const busy = run => run && ['waiting', 'running', 'stopping'].includes(run.state);

// the server's answer to a change; JSON and nothing else
export const change = values => ({ method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(values) });
