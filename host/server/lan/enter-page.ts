// What a device sees that comes from the local network for the first time: a page that
// hands the token in its address to the server. The token stands in the fragment, which
// no browser sends and no preview of a link fetches, so that nobody else uses it up.

/** Text alone: it is written into the page as it is. */
const SCAN = 'Scan the code that the computer shows. It is in its terminal, and in the view on its own screen.';

export const SCAN_AGAIN =
  'This device was let in before, but is no longer: a day is over, or nightdraw was started again. Scan the code that the computer shows now.';

export const ENTER_PAGE = pageSaying(SCAN);
export const ENTER_AGAIN_PAGE = pageSaying(SCAN_AGAIN);

function pageSaying(words: string): string {
  return `<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>nightdraw</title>
<link rel="stylesheet" href="/enter.css">
<main>
<h1>nightdraw</h1>
<p id="say" role="status">${words}</p>
</main>
<script src="/enter.js"></script>
`;
}

export const ENTER_CSS = `body { font: 1.25rem/1.5 system-ui, sans-serif; margin: 2rem; color-scheme: light dark; } main { max-width: 32rem; margin: auto; }
`;

export const ENTER_SCRIPT = `// Hands over the token of the address, then opens the view.
const say = document.getElementById('say');
const token = location.hash.slice(1);
history.replaceState(null, '', location.pathname);
if (token !== '') {
  say.textContent = 'One moment.';
  fetch('/api/lan/enter', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ token }) })
    .then(async (response) => {
      if (response.ok) location.replace('/');
      else say.textContent = (await response.json()).error.message;
    })
    .catch(() => { say.textContent = 'The computer does not answer. Is nightdraw still running there?'; });
}
`;
