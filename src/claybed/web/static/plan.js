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

  form.addEventListener('input', ask);
  form.addEventListener('submit', (event) => event.preventDefault());
  ask();
})();
