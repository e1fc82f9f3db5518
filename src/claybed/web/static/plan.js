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
        const off = [null, pour.water_off, pour.plaster_off][k];
        if (off) {
          const small = document.createElement('small');
          small.textContent = off;
          cell.append(document.createElement('br'), small);
        }
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
  // Another wall or outside: the studio machine works out the block less the model, as it would be cut.
  const blocks = document.getElementById('what-block'), blockSays = document.getElementById('what-block-says');
  const anew = document.getElementById('again'), touched = {};
  let blockWaiting = false, blockBusy = false, moved = false, everShown = false;
  function showWall() {
    const mm = Number(blocks.wall.value);
    say('w-wall-says', us ? ClaybedRule.inches(mm) : `${mm} mm`);
    blocks.wall.setAttribute('aria-valuetext', document.getElementById('w-wall-says').textContent);
  }
  async function askBlock() {
    showWall();
    moved = true;
    if (blockBusy) { blockWaiting = true; return; }
    blockBusy = true;
    delete blocks.dataset.shown;
    const telling = setInterval(tellReady, 600);
    if (!everShown) blockSays.textContent = 'Getting the mold ready …';
    do {
      blockWaiting = false;
      const query = new URLSearchParams({ wall_mm: blocks.wall.value, shape: blocks.shape.value, ratio: form.ratio.value, waste: form.waste.value });
      const answer = await fetch(`/api/plans/${form.dataset.plan}/block?${query}`).catch(() => null);
      if (!answer) { blockSays.textContent = 'The studio machine does not answer.'; continue; }
      if (answer.status === 204) continue;
      const told = await answer.json().catch(() => ({}));
      if (!answer.ok) { blockSays.textContent = told.says || 'That cannot be worked out.'; continue; }
      blockSays.textContent = `Block ${told.outer}. All pours: ${told.water} of water and ${told.plaster} of plaster.`;
      blocks.dataset.shown = told.asked;
      everShown = true;
    } while (blockWaiting);
    clearInterval(telling);
    blockBusy = false;
  }
  // A mold that the studio machine has forgotten is cut anew, which takes as long as planning did: begun as soon
  // as a hand or the focus comes near, and told while one waits.
  async function getReady() {
    const answer = await fetch(`/api/plans/${form.dataset.plan}/block/ready`).catch(() => null);
    return answer && answer.ok ? answer.json().catch(() => null) : null;
  }
  async function tellReady() {
    const told = await getReady();
    if (!told || told.ready || !blockBusy || blocks.dataset.shown) return;
    blockSays.textContent = `Working the mold anew, once: ${told.says}${told.done > 0 ? `, ${Math.round(100 * told.done)} %` : ''} …`;
  }
  for (const near of ['pointerenter', 'focusin']) blocks.addEventListener(near, getReady, { once: true });
  // While this page is in view its mold stays in hand before those of pages that are not.
  setInterval(() => { if (everShown && !document.hidden) fetch(`/api/plans/${form.dataset.plan}/block/ready?begin=false`).catch(() => {}); }, 30000);
  const names = { wall: ['wall_mm', (v) => `${v}mm`], shape: ['shape', (v) => v], ratio: ['consistency', (v) => `1:${v}`], waste: ['waste', (v) => `${v}%`], bucket: ['bucket_l', (v) => `${v}L`] };
  function touch(event) {
    const [name, text] = names[event.target.name];
    touched[name] = text(event.target.value);
    if (!anew) return;
    anew.elements[name].value = touched[name];
    anew.querySelector('button').disabled = false;
  }
  blocks.addEventListener('input', (event) => { touch(event); askBlock(); });
  blocks.addEventListener('submit', (event) => event.preventDefault());
  form.addEventListener('input', (event) => { touch(event); if (moved && event.target.name !== 'bucket') askBlock(); });
  showWall();

  form.addEventListener('submit', (event) => event.preventDefault());
  ask();
})();
