// Sends what is typed of a zone, keeps it here until the board has it, and shows what the board says of it.
'use strict';
(() => {
  // Some browsers have no such place, or forbid it.
  const kept = (key, value) => {
    try {
      if (value === undefined) return sessionStorage.getItem(key) || '';
      if (value) sessionStorage.setItem(key, value); else sessionStorage.removeItem(key);
    } catch { /* Then it is only on the page. */ }
    return '';
  };
  const typed = (input) => kept(input.id, input.value);

  const wrong = (input, why) => {
    document.getElementById(input.id + '.wrong').textContent = why;
    if (why) input.setAttribute('aria-invalid', 'true'); else input.removeAttribute('aria-invalid');
  };

  // What the board says now takes the place of what it said; what is typed stays.
  const look = async () => {
    const text = await (await fetch('/readings')).text();
    const now = new DOMParser().parseFromString(text, 'text/html');
    for (const old of document.querySelectorAll('[data-fresh]')) {
      const fresh = now.getElementById(old.id);
      if (fresh) old.replaceWith(fresh);
    }
  };

  const send = async (form) => {
    const inputs = [...form.querySelectorAll('input')];
    const filled = inputs.filter((input) => input.value.trim());
    const readings = Object.fromEntries(filled.map((input) => [input.name, input.value]));
    inputs.forEach((input) => wrong(input, ''));
    if (!filled.length) return 'Nothing is filled in yet.';
    let status, said;
    try {
      const answer = await fetch('/do', {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ do: 'measured', zone: form.dataset.zone, readings }),
        signal: AbortSignal.timeout(15000),
      });
      status = answer.status;
      said = await answer.json().catch(() => ({}));
    } catch {
      return 'No answer from the board: whether it was kept shows when this page is loaded again. What you typed stays here.';
    }
    if (said.measured) {
      for (const input of filled) {
        // Who has typed another value meanwhile keeps it.
        if (input.value === readings[input.name]) input.value = '';
        typed(input);
      }
      await look().catch(() => {});
      const { what, kept, note } = said.measured;
      return what + (kept ? '. Kept.' : '. A power cut would forget it.') + (note ? ' ' + note : '');
    }
    if (said.refused) {
      const at = said.refused.at || {};
      const bad = inputs.filter((input) => at[input.name]);
      bad.forEach((input) => wrong(input, at[input.name]));
      if (bad.length) bad[0].focus();
      return said.refused.why + '; ' + said.refused.remedy;
    }
    if (status === 401) return 'You are signed out: sign in with another tab, then send again.';
    return 'The board did not take it (' + status + '). What you typed stays here.';
  };

  for (const form of document.querySelectorAll('form[data-zone]')) {
    const button = form.querySelector('.act button');
    const result = form.querySelector('[role=status]');
    for (const input of form.querySelectorAll('input')) input.value ||= kept(input.id);
    form.addEventListener('input', (event) => typed(event.target));
    form.addEventListener('click', (event) => {
      const input = event.target.dataset.for && document.getElementById(event.target.dataset.for);
      if (!input) return;
      input.value = 'OL';
      typed(input);
    });
    form.addEventListener('submit', async (event) => {
      event.preventDefault();
      // A button that is disabled would lose the focus of whoever pressed it.
      if (form.ariaBusy === 'true') return;
      form.ariaBusy = 'true';
      result.textContent = 'Sending.';
      result.textContent = await send(form);
      form.ariaBusy = null;
    });
    button.disabled = false;
  }
})();
