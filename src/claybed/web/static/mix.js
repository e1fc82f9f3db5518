'use strict';
// The quick mix, worked out here so that it needs no network. The formulas are those of the Python side, and a
// test holds the two together.
(() => {
  const root = document.getElementById('mix'), form = document.getElementById('form');
  const known = JSON.parse(root.dataset.constants), us = root.dataset.us === 'true';
  const $ = (id) => document.getElementById(id);
  const MM = us ? 25.4 : 1, ML_SMALL = us ? 29.5735295625 : 1, ML_LARGE = us ? 946.352946 : 1000, G_PER_OZ = 28.349523125;
  const UNITS = { length: us ? 'in' : 'mm', volume: us ? 'qt' : 'l', small: us ? 'fl oz' : 'ml or g' };
  for (const place of document.querySelectorAll('[data-unit]')) place.textContent = UNITS[place.dataset.unit];
  for (const [index, row] of known.wastes.entries()) {
    const option = document.createElement('option');
    option.value = row.share;
    option.textContent = `${row.says} (${Math.round(row.share * 100)} % more)`;
    option.selected = index === 0;
    form.waste.append(option);
  }
  form.bucket.value = us ? (known.bucket_l * 1000 / ML_LARGE).toFixed(1) : String(known.bucket_l);

  function number(text) {
    const plain = String(text).trim().replace(',', '.');
    if (!plain) return null;
    const mixed = /^(\d+)?\s*(?:(\d+)\/(\d+))?$/.exec(plain);
    const value = mixed && mixed[3] ? Number(mixed[1] || 0) + Number(mixed[2]) / Number(mixed[3]) : Number(plain);
    return Number.isFinite(value) ? value : NaN;
  }

  function sayMass(grams) {
    if (us) {
      const tenths = Math.round(grams / G_PER_OZ * 10);
      return tenths >= 160 ? [`${Math.floor(tenths / 160)} lb ${(tenths % 160 / 10).toFixed(1)}`, 'oz'] : [(Math.round(grams / G_PER_OZ * 20) / 20).toFixed(2), 'oz'];
    }
    return Math.round(grams) >= 1000 ? [(Math.round(grams / 5) * 5 / 1000).toFixed(3), 'kg'] : [String(Math.round(grams)), 'g'];
  }
  const plainMass = (grams) => sayMass(grams).join(' ');
  const sayVolume = (ml) => us ? `${(ml / ML_LARGE).toFixed(2)} qt` : ml >= 1000 ? `${(ml / 1000).toFixed(2)} l` : `${Math.round(ml)} ml`;
  function big(id, grams) {
    const [value, unit] = sayMass(grams), small = document.createElement('small');
    small.textContent = unit;
    $(id).replaceChildren(document.createTextNode(value + '\u2009'), small);
  }

  // Water and plaster for a slurry volume: one gram of plaster makes (w / 100 / water density + 1 / grain density) ml.
  function mix(spaceMl, waste, plasterPerWater) {
    const slurryMl = spaceMl * (1 + waste), w = 100 / plasterPerWater;
    const plaster = slurryMl / (w / 100 / known.water_g_per_ml + 1 / known.grain_g_per_ml);
    return { slurryMl, water: plaster * w / 100, plaster };
  }

  function measured() {
    const shape = form.shape.value;
    const take = (name) => number(form[name].value);
    if (shape === 'box') {
      const [a, b, h] = ['length', 'width', 'height'].map(take);
      if ([a, b, h].includes(null)) return null;
      return { ml: a * b * h * MM ** 3 / 1000, perMm: a * b * MM ** 2 / 1000, says: `${a} × ${b} × ${h} ${UNITS.length}` };
    }
    if (shape === 'round') {
      const [d, h] = ['diameter', 'tall'].map(take);
      if ([d, h].includes(null)) return null;
      return { ml: Math.PI / 4 * d * d * h * MM ** 3 / 1000, perMm: Math.PI / 4 * d * d * MM ** 2 / 1000, says: `Ø ${d} × ${h} ${UNITS.length}` };
    }
    const space = take('space');
    return space === null ? null : { ml: space * ML_LARGE, perMm: null, says: `${space} ${UNITS.volume}` };
  }

  function tell() {
    for (const group of document.querySelectorAll('[data-for]')) group.hidden = group.dataset.for !== form.shape.value;
    const room = measured(), object = number(form.object.value) ?? 0, ratio = number(form.ratio.value), bucket = number(form.bucket.value);
    const trouble = (text) => { $('trouble').textContent = text; $('trouble').hidden = false; $('told').hidden = true; };
    if (!room) return trouble('Type the inside of the form.');
    if (!(room.ml > 0) || !Number.isFinite(room.ml)) return trouble('Numbers above 0, please.');
    if (!(object >= 0)) return trouble('The object cannot be less than nothing.');
    if (!(ratio >= 0.5 && ratio <= 5)) return trouble('A ratio from 0.5 to 5 parts of plaster to one of water makes plaster; 1.3 is usual.');
    if (!(bucket > 0)) return trouble('How much slurry fits your largest bucket?');
    const space = room.ml - object * ML_SMALL;
    if (!(space > 0)) return trouble('The object fills all of that form. Check both, and their units.');
    const waste = Number(form.waste.value), made = mix(space, waste, ratio), count = Math.max(1, Math.ceil(made.slurryMl / (bucket * ML_LARGE) * (1 - 1e-9)));
    if (count > 1000) return trouble('That is more than a thousand buckets. Check the units.');
    $('trouble').hidden = true;
    $('told').hidden = false;
    big('water', made.water);
    big('plaster', made.plaster);
    $('water').dataset.grams = made.water;
    $('plaster').dataset.grams = made.plaster;
    $('buckets').textContent = count === 1 ? `One bucket, ${sayVolume(made.slurryMl)} of slurry.` : `${count} buckets, each ${plainMass(made.water / count)} of water and ${plainMass(made.plaster / count)} of plaster.`;
    if (room.perMm === null) $('permm').textContent = '';
    else {
      const step = us ? 25.4 / 16 : 1, one = mix(room.perMm * step, waste, ratio);
      $('permm').textContent = `For each ${us ? '1/16 in' : 'millimetre'} that the line stands higher or lower: ± ${plainMass(one.water)} of water, ± ${plainMass(one.plaster)} of plaster.`;
    }
    // What an object's page handed over: how far its volume may be off, as long as that object is meant.
    const off = number(brought.get('off') || ''), same = off > 0 && form.object.value === brought.get('object');
    const less = same ? mix(off * ML_SMALL, waste, ratio) : null;
    $('spread').textContent = less ? `The object is known to ± ${brought.get('off')} ${UNITS.small.split(' or ')[0]}: ± ${plainMass(less.water)} of water, ± ${plainMass(less.plaster)} of plaster.` : '';
    $('common').textContent = `The common rule, as much water as space, would take ${plainMass(space)} and ${plainMass(space * ratio)}.`;
    $('working').textContent = `Space ${sayVolume(space)} (${room.says}${object ? ', less the object' : ''}), plus ${Math.round(waste * 100)} % is ${sayVolume(made.slurryMl)} of slurry. A gram of plaster at 1 : ${ratio} makes ${(made.slurryMl / made.plaster).toFixed(4)} ml of it: water ${(1 / ratio).toFixed(3)} g / ${known.water_g_per_ml} g/ml, plus 1 g / ${known.grain_g_per_ml} g/ml. ${known.source}`;
  }

  const brought = new URLSearchParams(location.hash.slice(1));
  for (const name of ['object', 'length', 'width', 'height']) if (brought.get(name)) form.querySelector(`[name=${name}]`).value = brought.get(name);
  form.addEventListener('input', tell);
  form.addEventListener('submit', (event) => event.preventDefault());
  if ('serviceWorker' in navigator) navigator.serviceWorker.register('/offline.js').catch(() => {});
  tell();
})();
