// Talking to the server that serves this page, and to nobody else.

// News by kind as they come; `connected` hears true and false.
export function listenTo(kinds, take, connected) {
  const stream = new EventSource('events');
  for (const kind of kinds) stream.addEventListener(kind, (e) => take(kind, JSON.parse(e.data)));
  stream.onopen = () => connected(true);
  stream.onerror = () => connected(false);
}

// The answer to a question; `refused` says why there is none.
export async function ask(question) {
  try {
    const reply = await fetch('ask', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(question) });
    return await reply.json();
  } catch {
    return { refused: 'the server does not answer; is `chassis_describe view` still running?' };
  }
}
