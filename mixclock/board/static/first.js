// What somebody stated a moment ago: the laptop sends it before it has worked out what follows, and it is drawn at once.

import { store } from "./store.js";

const NEW_AT = 3; // a new bucket's card stands among those that have a card each
let words = [];

/** Forget them: a laptop that started again counts anew. */
export function forgetWords() {
  words = [];
}

/** A view with all that was stated since it was worked out. */
export function withWords(view) {
  words = words.filter((word) => word.number > view.words);
  return words.reduce(withWord, view);
}

/** Take one in. Tells whether it is news: the view may have been quicker. */
export function takeWord(word) {
  if (!store.view || word.number <= store.view.words || words.some((each) => each.number === word.number)) return false;
  words.push(word);
  store.view = withWord(store.view, word);
  return true;
}

const isAlike = (one, other) => JSON.stringify(one) === JSON.stringify(other);
const ends = (call, statement) => [call.done, call.ends].some((way) => way?.statement && isAlike(way.statement, statement));

function withWord(view, { statement, by, recent, card }) {
  const open = (calls) => calls.filter((call) => !ends(call, statement));
  const isHeard = (alert) => statement.verb === "heard" && statement.alerts.includes(alert.id);
  const isOver = (row) => card?.told && (row.where === `batch ${card.id}` || card.areas.includes(row.where));
  const planned = view.planned.findIndex((each) => isAlike(each.statement, statement));
  return {
    ...view,
    alerts: open(view.alerts).map((alert) => (isHeard(alert) ? { ...alert, heard_by: alert.heard_by ?? by ?? "somebody" } : alert)),
    deadlines: open(view.deadlines),
    coming: view.coming.filter((row) => !isOver(row)),
    planned: view.planned.filter((_, place) => place !== planned),
    recent: recent ? [recent, ...view.recent].slice(0, 12) : view.recent,
    batches: card ? withCard(view.batches, card) : view.batches,
  };
}

function withCard(cards, card) {
  const old = cards.find((each) => each.id === card.id);
  if (card.stage === "done") return cards.filter((each) => each !== old);
  if (old) return cards.map((each) => (each === old ? { ...old, ...card, who: card.who ?? old.who } : each));
  return card.is_new ? [...cards.slice(0, NEW_AT), card, ...cards.slice(NEW_AT)] : cards;
}
