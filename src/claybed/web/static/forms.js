'use strict';
// A form is sent without leaving its page: what is refused is told beside the field it is about, and what was
// typed stays, also when the studio machine does not answer. Without this script a form is sent as ever.
(() => {
  const says = (text) => Object.assign(document.createElement('p'), { className: 'trouble told-here', id: 'told-here', textContent: text });
  const nameOf = (field) => {
    const label = field.labels && field.labels[0];
    return label ? [...label.childNodes].filter((node) => node.nodeType === 3).map((node) => node.textContent).join(' ').trim().split(/[,;]/)[0] : '';
  };

  // The field that a refusal is about: the one whose words it repeats, or whose label it names.
  function fieldOf(form, text) {
    const found = [...form.elements].filter((field) => field.name && field.type !== 'hidden' && field.matches('input, select, textarea'));
    const typed = found.filter((field) => field.type !== 'file' && field.value.trim() && text.includes(`“${field.value.trim().slice(0, 40)}`));
    const words = ` ${text.toLowerCase().replace(/[^\p{L}\p{N}]+/gu, ' ')} `;
    const named = (fields) => fields.find((field) => nameOf(field) && words.includes(` ${nameOf(field).toLowerCase().replace(/[^\p{L}\p{N}]+/gu, ' ')} `));
    const file = found.find((field) => field.type === 'file' && field.files.length && text.includes(field.files[0].name));
    return named(typed) || typed[0] || named(found) || file || null;
  }

  function quiet(form) {
    form.querySelector('.told-here')?.remove();
    for (const field of form.querySelectorAll('[aria-describedby~=told-here]')) {
      field.removeAttribute('aria-invalid');
      const others = field.getAttribute('aria-describedby').split(' ').filter((id) => id !== 'told-here');
      if (others.length) field.setAttribute('aria-describedby', others.join(' ')); else field.removeAttribute('aria-describedby');
    }
  }

  function tell(form, button, text) {
    for (const other of document.querySelectorAll('form')) quiet(other);
    const words = says(text), field = fieldOf(form, text);
    words.setAttribute('role', 'alert');
    if (!field) {
      (button || form.lastElementChild).before(words);
      words.scrollIntoView({ block: 'nearest' });
      return;
    }
    for (let around = field.closest('details'); around; around = around.parentElement.closest('details')) around.open = true;
    // Below the field and its hint; in a grid of fields, below the field's own cell.
    const cell = field.closest('.fields, .search') ? field.closest('label') || field : field.closest('label') || field;
    const hint = cell.nextElementSibling;
    (hint && hint.matches('.hint') ? hint : cell).after(words);
    field.setAttribute('aria-invalid', 'true');
    field.setAttribute('aria-describedby', [field.getAttribute('aria-describedby'), 'told-here'].filter(Boolean).join(' '));
    field.focus();
    form.addEventListener('input', () => quiet(form), { once: true });
  }

  // What the next page says first: that it was kept.
  function note(words) { try { sessionStorage.setItem('claybed-kept', words); } catch { /* said by what is listed there */ } }
  try {
    const words = sessionStorage.getItem('claybed-kept'), head = document.querySelector('main h1');
    sessionStorage.removeItem('claybed-kept');
    if (words && head) {
      const told = Object.assign(document.createElement('p'), { className: 'decision holds', textContent: words });
      told.setAttribute('role', 'status');
      head.after(told);
    }
  } catch { /* no storage: nothing to say */ }

  function go(to) {
    const there = new URL(to, location.href);
    if (there.hash && there.pathname === location.pathname && there.search === location.search) {
      history.replaceState(null, '', there.href);
      location.reload();
    } else location.assign(there.href);
  }

  document.addEventListener('submit', (event) => {
    const form = event.target, button = event.submitter;
    if (event.defaultPrevented || form.method !== 'post' || form.dataset.whole !== undefined || !form.closest('main')) return;
    event.preventDefault();
    if (form.dataset.sending || (form.dataset.sure && !window.confirm(form.dataset.sure))) return;
    quiet(form);
    const fields = new FormData(form), alone = form.dataset.alone ? fields.get(form.dataset.alone) : null;
    if (button && button.name) fields.append(button.name, button.value);
    const sent = new XMLHttpRequest(), bar = document.createElement('progress');
    bar.max = 1;
    bar.setAttribute('aria-label', 'how much is sent');
    form.dataset.sending = 'true';
    const show = setTimeout(() => (button || form.lastElementChild).before(bar), 700);
    const over = () => { clearTimeout(show); bar.remove(); delete form.dataset.sending; };
    sent.open('POST', form.action);
    sent.setRequestHeader('accept', 'application/json, text/html');
    sent.setRequestHeader('x-claybed-form', '1');
    sent.upload.addEventListener('progress', (step) => {
      if (!step.lengthComputable) return;
      if (step.loaded < step.total) bar.value = step.loaded / step.total; else bar.removeAttribute('value');
    });
    sent.addEventListener('load', () => {
      over();
      const to = sent.getResponseHeader('x-claybed-to');
      if (to) { note(form.dataset.kept || ''); go(to); return; }
      let told = '';
      try { told = JSON.parse(sent.responseText).says; } catch { told = sent.responseText.length < 300 ? sent.responseText : ''; }
      tell(form, button, told || 'That did not work.');
    });
    sent.addEventListener('error', () => {
      over();
      tell(form, button, 'The studio machine does not answer. What you typed is still here: try again when it is back.');
    });
    if (alone instanceof File && alone.size) {
      sent.setRequestHeader('content-type', 'application/octet-stream');
      sent.send(alone);
    } else sent.send(form.enctype === 'multipart/form-data' ? fields : new URLSearchParams(fields));
  });
})();
