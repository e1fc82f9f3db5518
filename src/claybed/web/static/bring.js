'use strict';
// What a saved page wrote down, from the address behind "#" or from a file. It is shown first and kept on a tap:
// any page could have made such an address.
(() => {
  const root = document.getElementById('bring'), mold = root.dataset.mold;
  const says = document.getElementById('bring-says'), table = document.getElementById('bring-table'), keep = document.getElementById('bring-keep');
  const KINDS = ['pours', 'castings', 'remarks'], NAMES = { water_g: ['water', 'g'], plaster_g: ['plaster', 'g'], water_c: ['water at', '°C'], stood_min: ['stood', 'min'], wall_mm: ['wall', 'mm'] };
  let told = null;

  function show(text) {
    told = null;
    keep.hidden = table.hidden = true;
    let found;
    try { found = JSON.parse(text); } catch { found = null; }
    const sound = found && found.claybed === 'entries' && KINDS.includes(found.kind) && Array.isArray(found.entries) && found.entries.length <= 500 && found.entries.every((one) => one && typeof one === 'object' && typeof one.client_key === 'string');
    if (!sound) { says.textContent = 'That is not what a saved page writes. Nothing was kept.'; return; }
    if (found.mold !== mold) { says.textContent = `That was typed for another mold, ${String(found.mold).slice(0, 20)}. Open that mold and bring it in there.`; return; }
    if (!found.entries.length) { says.textContent = 'Nothing was typed on that page.'; return; }
    told = found;
    table.tBodies[0].replaceChildren(...told.entries.map((one) => {
      const row = document.createElement('tr'), when = document.createElement('td'), what = document.createElement('td'), at = new Date(one.at);
      when.textContent = Number.isNaN(at.getTime()) ? '' : at.toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' });
      const values = Object.entries(NAMES).filter(([name]) => Number.isFinite(one[name])).map(([name, [words, unit]]) => `${words} ${Number(one[name].toFixed(1))} ${unit}`);
      if (one.set_at) values.push(`set at ${new Date(one.set_at).toLocaleTimeString([], { timeStyle: 'short' })}`);
      if (one.note || one.text) values.push(String(one.note || one.text).slice(0, 200));
      what.textContent = [one.letter ? `Piece ${String(one.letter).slice(0, 8)}${one.batch ? `, bucket ${Number(one.batch)}` : ''}` : '', values.join(', ')].filter(Boolean).join(': ');
      row.append(when, what);
      return row;
    }));
    says.textContent = `${told.entries.length} ${told.entries.length === 1 ? 'entry waits' : 'entries wait'} to be kept.`;
    table.hidden = keep.hidden = false;
  }

  keep.addEventListener('click', async () => {
    keep.disabled = true;
    let kept = 0;
    const refused = [];
    try {
      for (const entry of told.entries) {
        const answer = await fetch(`/api/molds/${mold}/${told.kind}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(entry) });
        if (answer.ok) kept += 1;
        else if (answer.status >= 500 || answer.status === 429) throw new Error('later');
        else refused.push((await answer.json().catch(() => ({}))).says || 'An entry was refused.');
      }
      says.textContent = [`${kept} of ${told.entries.length} in the register.`, ...refused].join(' ');
      keep.hidden = true;
      history.replaceState(null, '', location.pathname);
    } catch {
      says.textContent = `The studio machine did not answer after ${kept} of ${told.entries.length}. Try again: nothing is kept twice.`;
    }
    keep.disabled = false;
  });
  document.getElementById('bring-file').addEventListener('change', async (event) => {
    const [file] = event.target.files;
    if (file) show(file.size < 4e6 ? await file.text() : '');
  });
  function fromAddress() {
    if (location.hash.length < 2) return;
    let text = '';
    try { text = new TextDecoder().decode(Uint8Array.from(atob(location.hash.slice(1).replaceAll('-', '+').replaceAll('_', '/')), (c) => c.charCodeAt(0))); } catch { text = ''; }
    show(text);
  }
  window.addEventListener('hashchange', fromAddress);
  fromAddress();
})();
