"""A script for the browser: pairs of words, or of a word and a mark, that lie on each other in a picture."""

from __future__ import annotations

OVERLAPS = """() => {
  const shown = [...document.querySelectorAll('svg text')].filter(t => t.textContent && t.getClientRects().length);
  const marks = [...document.querySelectorAll('.drawing .mark')].filter(m => m.getClientRects().length);
  const boxes = [...shown, ...marks].map(t => [t.textContent || 'mark', t.getBoundingClientRect(), t.closest('svg')]);
  const bad = [];
  for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
    const [a, p, s] = boxes[i], [b, q, t] = boxes[j];
    if (s !== t || a === b) continue;
    const w = Math.min(p.right, q.right) - Math.max(p.left, q.left);
    const h = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
    if (w > 1 && h > 4) bad.push([a, b]);  // line boxes are taller than the letters in them
  }
  for (const [a, p, s] of boxes) {
    const r = s.getBoundingClientRect();
    if (s.classList.contains('drawing') && (p.left < r.left - 1 || p.right > r.right + 1)) bad.push([a, 'edge']);
  }
  return bad;
}"""
