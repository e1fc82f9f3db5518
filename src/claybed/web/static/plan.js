'use strict';
// Another ratio, allowance or bucket: the weights follow the slider, worked out by the same formulas as the plan.
(() => {
  const form = document.getElementById('what-if'), body = document.querySelector('#what-if-table tbody');
  const us = form.dataset.us === 'true';
  let waiting = false, busy = false;
  const say = (id, text) => { document.getElementById(id).textContent = text; };

  async function ask() {
    const ratio = Number(form.ratio.value), waste = Number(form.waste.value), bucket = Number(form.bucket.value);
    say('w-ratio-says', `1 : ${ratio.toFixed(2)}`);
    say('w-waste-says', `${waste} %`);
    say('w-bucket-says', us ? `${(bucket / 3.785411784).toFixed(1)} gal` : `${bucket} l`);
    form.ratio.setAttribute('aria-valuetext', `1 to ${ratio.toFixed(2)}`);
    if (busy) { waiting = true; return; }
    busy = true;
    do {
      waiting = false;
      const query = new URLSearchParams({ ratio: form.ratio.value, waste: form.waste.value, bucket: form.bucket.value });
      const answer = await fetch(`/api/plans/${form.dataset.plan}/weights?${query}`).catch(() => null);
      if (answer && answer.ok) show(await answer.json());
    } while (waiting);
    busy = false;
  }

  function show(told) {
    body.replaceChildren(...told.pours.map((pour) => {
      const row = document.createElement('tr');
      for (const [k, text] of [pour.piece, pour.water, pour.plaster, String(pour.buckets)].entries()) {
        const cell = document.createElement(k ? 'td' : 'th');
        if (k) cell.className = 'n'; else cell.scope = 'row';
        cell.textContent = text;
        row.append(cell);
      }
      return row;
    }));
    form.dataset.shown = told.asked;
  }

  // The picture stands in a frame of its own, which is told what to light and says when it can.
  const view = document.getElementById('view');
  const tell = (message) => view.contentWindow.postMessage(message, '*');
  const dark = () => document.documentElement.dataset.bench ? document.documentElement.dataset.bench === 'dark' : matchMedia('(prefers-color-scheme: dark)').matches;
  window.addEventListener('message', ({ source, data }) => {
    if (source !== view.contentWindow || !data || data.claybed !== 'ready') return;
    view.dataset.ready = 'true';
    for (const button of document.querySelectorAll('.place')) button.hidden = false;
    for (const button of document.querySelectorAll('[data-mark]')) button.hidden = !data[button.dataset.mark];
    tell({ claybed: 'bench', dark: dark() });
  });
  new MutationObserver(() => tell({ claybed: 'bench', dark: dark() })).observe(document.documentElement, { attributeFilter: ['data-bench'] });
  function shown() { if (matchMedia('(max-width: 900px)').matches) view.scrollIntoView({ block: 'start' }); }
  for (const button of document.querySelectorAll('.place')) {
    button.addEventListener('click', () => {
      const { at, piece, says } = button.dataset;
      tell(at ? { claybed: 'place', at: JSON.parse(at), says } : { claybed: 'piece', piece, says });
      shown();
    });
  }
  for (const button of document.querySelectorAll('[data-mark]')) button.addEventListener('click', () => { tell({ claybed: 'mark', what: button.dataset.mark }); shown(); });

  form.addEventListener('input', ask);
  form.addEventListener('submit', (event) => event.preventDefault());
  ask();
})();
