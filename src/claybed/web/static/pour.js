'use strict';
// Pour day. Everything that matters is kept on this device: the step, when each timer ends, what was typed.
// A timer is the moment it ends, so it goes on through a locked screen, a reload and a lost network.
(() => {
  const told = JSON.parse(document.getElementById('told').textContent);
  const name = `claybed-pour-${told.mold}${told.what ? '-' + told.what : ''}`;
  const $ = (id) => document.getElementById(id);
  const fresh = { mold: told.mold, name: told.name, sha256: told.sha256, at: 0, title: '', began: 0, ends: {}, began_at: {}, rung: {}, typed: {}, unsent: [], finished: false };
  if (told.address) fresh.address = told.address;
  let kept = { ...fresh };
  try {
    const found = JSON.parse(localStorage.getItem(name) || 'null');
    if (found && found.sha256 === told.sha256) kept = { ...fresh, ...found, ...(told.address && found.at === 0 ? { address: told.address } : {}) };
    else if (found) kept.unsent = found.unsent || [];
  } catch { /* a new start */ }
  const save = () => { try { localStorage.setItem(name, JSON.stringify(kept)); } catch { $('link').textContent = 'This device keeps nothing: do not reload.'; } };
  const steps = told.steps;
  const step = () => steps[Math.min(kept.at, steps.length - 1)];

  const clockOf = (ms) => {
    const s = Math.max(0, Math.ceil(ms / 1000));
    const h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60;
    return (h ? `${h}:${String(m).padStart(2, '0')}` : String(m)) + ':' + String(s % 60).padStart(2, '0');
  };

  function show() {
    const now = step();
    kept.title = now.title;
    save();
    $('where').textContent = `${now.pour ? `Piece ${now.pour}, step` : 'Step'} ${kept.at + 1} of ${steps.length}`;
    $('title').textContent = now.title;
    $('number').hidden = !now.number;
    if (now.number) {
      const unit = document.createElement('small');
      unit.textContent = now.unit;
      const off = document.createElement('span');
      off.className = 'off';
      off.textContent = now.off || '';
      $('number').replaceChildren(document.createTextNode(now.number + '\u2009'), unit, ...(now.off ? [off] : []));
    }
    $('says').replaceChildren(...now.says.map((text) => { const row = document.createElement('li'); row.textContent = text.replace(/(\d) (?=\d+\/\d|(?:mm|in|ml|kg|g|lb|oz)\b)/g, '$1\u00a0'); return row; }));
    $('caution').hidden = !now.caution;
    $('caution').textContent = now.caution ? `Take care: ${now.caution}` : '';
    const next = steps[kept.at + 1];
    $('next').textContent = next ? `Next: ${next.title}` : 'This was the last step.';
    $('back').disabled = kept.at === 0;
    $('on').textContent = next ? 'Done, next' : 'Finished';
    if (kept.finished) {
      $('where').textContent = '';
      $('title').textContent = told.again ? told.again.title : 'All poured';
      for (const id of ['number', 'caution']) $(id).hidden = true;
      for (const id of ['says', 'ask']) $(id).replaceChildren();
      const link = document.createElement('a');
      link.href = `${told.saved ? told.saved.home : ''}/molds/${told.mold}`;
      link.textContent = 'Its page on the shelf';
      $('next').replaceChildren(link, ' follows it from here.');
      $('on').textContent = told.again ? told.again.button : 'Finished';
      $('on').disabled = !told.again;
      tick();
      return;
    }
    ask(now);
    tick();
    window.scrollTo(0, 0);
  }

  function ask(now) {
    const form = $('ask');
    form.replaceChildren();
    $('on').disabled = false;
    for (const field of now.ask) {
      const id = `${now.id}.${field.name}`;
      const cell = document.createElement('div');
      if (field.unit === 'now') {
        const button = document.createElement('button');
        button.type = 'button';
        button.textContent = kept.typed[id] ? `Set at ${new Date(kept.typed[id]).toLocaleTimeString([], { timeStyle: 'short' })}` : field.label;
        button.addEventListener('click', () => { kept.typed[id] = new Date().toISOString(); save(); show(); });
        cell.append(button);
      } else {
        const label = document.createElement('label'), unit = document.createElement('span'), input = document.createElement('input');
        label.htmlFor = id;
        label.textContent = `${field.label} `;
        unit.className = 'unit';
        unit.textContent = field.unit;
        label.append(unit);
        Object.assign(input, { id, inputMode: 'decimal', autocomplete: 'off', value: kept.typed[id] || '' });
        if (field.as_planned) input.placeholder = field.as_planned.toFixed(field.per_unit === 1 ? 0 : 1);
        const wrong = document.createElement('p');
        wrong.className = 'wrong';
        wrong.id = `${id}-wrong`;
        input.setAttribute('aria-describedby', wrong.id);
        input.addEventListener('input', () => { kept.typed[id] = input.value; save(); judge(field, input, wrong); });
        cell.append(label, input, wrong);
        judge(field, input, wrong);
      }
      form.append(cell);
    }
  }

  function judge(field, input, wrong) {
    const value = amount(input.id), odd = input.value.trim() !== '' && (value === null || value < field.low || value > field.high);
    input.setAttribute('aria-invalid', String(odd));
    wrong.textContent = odd ? `Cannot be right: ${Math.round(field.low)} to ${Math.round(field.high)} ${field.unit}.` : '';
    $('on').disabled = document.querySelector('#ask [aria-invalid=true]') !== null;
  }

  function amount(id) {
    const text = String(kept.typed[id] || '').trim().replace(',', '.');
    const value = Number(text);
    return text && Number.isFinite(value) && value >= 0 ? value : null;
  }

  // What was weighed for a batch goes out when the batch is poured, and again when the piece has set.
  function enter(now) {
    if (told.to) { enterWare(now); return; }
    const batchDone = /\.pour(\d+)$/.exec(now.id), setDone = /\.set$/.test(now.id);
    if (!batchDone && !setDone) return;
    const batch = batchDone ? Number(batchDone[1]) : 1;
    const water = `${now.pour}.water${batch}.water_g`, plaster = `${now.pour}.plaster${batch}.plaster_g`, heat = `${now.pour}.water${batch}.water_c`;
    const unitOf = (id) => (steps.flatMap((one) => one.ask.map((field) => [`${one.id}.${field.name}`, field])).find(([key]) => key === id) || [0, { per_unit: 1, unit: '' }])[1];
    const grams = (id) => { const value = amount(id); return value === null ? null : value * unitOf(id).per_unit; };
    const warmth = amount(heat);
    const entry = {
      client_key: `${kept.mold}.${kept.sha256.slice(0, 8)}.${now.id}.${kept.began}`, at: new Date().toISOString(), letter: now.pour, batch,
      shown: Object.fromEntries(steps.filter((one) => one.pour === now.pour && one.batch === batch && one.number).map((one) => [one.id, `${one.number} ${one.unit}`])),
    };
    if (batchDone) Object.assign(entry, { water_g: grams(water), plaster_g: grams(plaster), water_c: warmth === null ? null : unitOf(heat).unit === '°F' ? (warmth - 32) / 1.8 : warmth });
    else entry.set_at = kept.typed[`${now.id}.set_at`] || entry.at;
    kept.unsent.push(entry);
    save();
    send();
  }

  // A cast or a pressing goes into the register at its last step.
  function enterWare(now) {
    if (now.clocks && kept.began_at[now.id]) kept.typed[now.clocks] = Math.max(0.1, (Date.now() - kept.began_at[now.id]) / 60000).toFixed(1);
    if (!now.log) return;
    const entry = { client_key: `${kept.mold}.${told.what}.${kept.began}`, at: new Date().toISOString(), ...now.log };
    for (const field of now.ask) {
      const value = amount(`${now.id}.${field.name}`);
      entry[field.name] = value === null ? null : value * field.per_unit;
    }
    kept.unsent.push(entry);
    save();
    send();
  }

  let sending = false;
  async function send() {
    if (told.saved) { told_link(); return; } // a page of its own asks the network for nothing
    if (sending) return;
    sending = true;
    try {
      while (kept.unsent.length) {
        const answer = await fetch(told.to || `/api/molds/${kept.mold}/pours`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(kept.unsent[0]) });
        if (answer.status >= 500 || answer.status === 429) throw new Error('later');
        if (!answer.ok) {
          const says = (await answer.json().catch(() => ({}))).says || 'An entry was refused.';
          kept.refused = says;
        } else if (answer.status === 200) {
          // Two devices at one bucket: both entries are kept, and both are told.
          const { also } = await answer.json().catch(() => ({}));
          if (also) kept.also = `Piece ${also.letter} was entered by ${also.by} too, at ${new Date(also.at).toLocaleTimeString([], { timeStyle: 'short' })}. Both are kept.`;
        }
        kept.unsent.shift();
        save();
      }
    } catch { /* the network is gone; tried again below */ }
    sending = false;
    told_link();
  }
  // From a saved page the values go to the register by hand: behind "#" of an address that the studio machine
  // shows first, or in a file. Each entry has its own mark, so that bringing it twice does no harm.
  function written() {
    return JSON.stringify({ claybed: 'entries', mold: told.mold, kind: told.to ? told.to.split('/').pop() : 'pours', entries: kept.unsent });
  }
  function bringing(count) {
    $('bringing').hidden = !count;
    if (!count) return;
    $('bringing-says').textContent = `${count} ${count === 1 ? 'entry is' : 'entries are'} kept in this page and not yet in the register.`;
    const packed = btoa(String.fromCharCode(...new TextEncoder().encode(written()))).replaceAll('+', '-').replaceAll('/', '_');
    $('bring-link').href = `${told.saved.home}/pour/${told.mold}/bring#${packed}`;
  }
  function told_link() {
    const count = kept.unsent.length;
    if (told.saved) { bringing(count); $('link').textContent = count ? `${count} to bring` : ''; return; }
    $('link').textContent = kept.refused ? kept.refused : count ? `${count} to send when the network is back` : kept.also || '';
  }

  // Sound is only allowed after a tap; the first tap on any button opens it.
  let sound = null;
  document.addEventListener('pointerdown', () => {
    try { sound = sound || new AudioContext(); sound.resume(); } catch { sound = null; }
    if (navigator.wakeLock && document.visibilityState === 'visible') navigator.wakeLock.request('screen').catch(() => {});
  });
  function ring() {
    if (navigator.vibrate) navigator.vibrate([400, 150, 400, 150, 400]);
    if (!sound) return;
    for (let k = 0; k < 6; k++) {
      const tone = sound.createOscillator(), loud = sound.createGain(), at = sound.currentTime + k * 0.45;
      tone.frequency.value = k % 2 ? 660 : 880;
      loud.gain.setValueAtTime(0.0001, at);
      loud.gain.exponentialRampToValueAtTime(0.4, at + 0.02);
      loud.gain.exponentialRampToValueAtTime(0.0001, at + 0.38);
      tone.connect(loud).connect(sound.destination);
      tone.start(at);
      tone.stop(at + 0.4);
    }
  }

  function tick() {
    const now = step(), minutes = now.minutes, ends = kept.ends[now.id];
    $('timer').hidden = !minutes;
    if (minutes) {
      const whole = (ends ? ends.whole : minutes * 60000), left = ends ? ends.at - Date.now() : whole;
      $('clock').textContent = left > 0 || !ends ? clockOf(left) : 'Time is up';
      document.querySelector('.timer .left').style.strokeDasharray = `${Math.max(0, Math.min(100, left / whole * 100))} 100`;
      $('start').textContent = ends ? 'Start again' : 'Start';
    }
    for (const [id, timer] of Object.entries(kept.ends)) {
      if (timer.at <= Date.now() && !kept.rung[id]) {
        kept.rung[id] = true;
        save();
        const one = steps.find((other) => other.id === id);
        $('alarm').hidden = false;
        $('alarm').textContent = `${one ? one.title : 'A timer'}: time is up. Tap to stop.`;
        ring();
      }
    }
    let others = [];
    try {
      for (let k = 0; k < localStorage.length; k++) {
        const key = localStorage.key(k);
        if (!key.startsWith('claybed-pour-') || key === name) continue;
        const other = JSON.parse(localStorage.getItem(key));
        const next = Object.values(other.ends || {}).map((timer) => timer.at - Date.now()).filter((ms) => ms > 0).sort((a, b) => a - b)[0];
        if (next) others.push(`${other.name} ${clockOf(next)}`);
      }
    } catch { others = []; }
    $('others').textContent = others.join(' · ');
  }

  $('start').addEventListener('click', () => {
    const now = step(), whole = now.minutes * 60000;
    kept.ends[now.id] = { at: Date.now() + whole, whole };
    kept.began_at[now.id] = Date.now();
    delete kept.rung[now.id];
    save();
    tick();
  });
  $('more').addEventListener('click', () => {
    const now = step(), running = kept.ends[now.id], from = running ? Math.max(running.at, Date.now()) : Date.now() + now.minutes * 60000;
    kept.ends[now.id] = { at: from + 60000, whole: (running ? running.whole : now.minutes * 60000) + 60000 };
    delete kept.rung[now.id];
    save();
    tick();
  });
  $('on').addEventListener('click', () => {
    if (kept.finished && told.again) {
      kept = { ...fresh, unsent: kept.unsent };
      show();
      return;
    }
    if (!kept.began) kept.began = Date.now();
    enter(step());
    if (kept.at + 1 < steps.length) kept.at += 1;
    else kept.finished = true;
    show();
  });
  $('back').addEventListener('click', () => { kept.at = Math.max(0, kept.at - 1); kept.finished = false; show(); });
  if (told.saved) {
    $('bring-file').addEventListener('click', () => {
      const link = document.createElement('a');
      link.href = URL.createObjectURL(new Blob([written()], { type: 'application/json' }));
      link.download = `entries ${told.mold}.json`;
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    });
    $('bring-done').addEventListener('click', () => { kept.unsent = []; save(); told_link(); });
  }
  $('alarm').addEventListener('click', () => { $('alarm').hidden = true; });
  $('ask').addEventListener('submit', (event) => event.preventDefault());
  window.addEventListener('online', send);
  document.addEventListener('visibilitychange', tick);
  setInterval(tick, 250);
  setInterval(send, 15000);
  if (!told.ready) { $('alarm').hidden = false; $('alarm').textContent = 'This plan says: not ready to pour. Tap to look at it all the same.'; }
  if (!told.saved && 'serviceWorker' in navigator) navigator.serviceWorker.register('/offline.js').catch(() => {});
  show();
  send();
  told_link();
})();
