// Labels and kit codes as programme/label reads them, so that a slip is told with no
// network. Sign by sign the same: a test holds the two against each other.
"use strict";

export const letters = "ABCDEFHJKMNPQRTVWXY";
const shortest = 2, longest = 4, digits = 5, largest = 9999999;
const forDigit = {O: "0", Q: "0", D: "0", I: "1", L: "1", Z: "2", S: "5", G: "6", B: "8"};
const forLetter = {8: "B", U: "V", G: "C"};

const isDigit = (sign) => sign >= "0" && sign <= "9" && sign.length === 1;
const isLetter = (sign) => sign.length === 1 && letters.includes(sign);
const written = (number) => String(number).padStart(digits, "0");

// checkOf is the letter that makes a code of the signs before it hold.
export function checkOf(signs) {
  let sum = 0;
  for (const sign of signs) sum = (sum + (isDigit(sign) ? Number(sign) : letters.indexOf(sign))) * 2 % 19;
  return letters[(19 + 1 - sum) % 19];
}

const codeOf = (prefix, number) => ({prefix, number, text: `${prefix}-${written(number)}-${checkOf(prefix + written(number))}`});

// capital is a sign in capitals, unless that makes several of it.
function capital(sign) {
  const large = sign.toUpperCase();
  return [...large].length === 1 ? large : sign;
}

// plain are the parts of a text in capitals, without what stands between them.
function plain(text) {
  let out = "";
  for (let sign of text) {
    const at = sign.codePointAt(0);
    if (/[\p{Pd}\p{Cf}_./·−]/u.test(sign)) sign = " ";
    else if (at >= 0xff01 && at <= 0xff5e) sign = String.fromCodePoint(at - 0xfee0);
    else if (at >= 0x660 && at <= 0x669) sign = String.fromCodePoint(at - 0x660 + 0x30);
    else if (at >= 0x6f0 && at <= 0x6f9) sign = String.fromCodePoint(at - 0x6f0 + 0x30);
    out += capital(sign);
  }
  return out.split(/\p{White_Space}+/u).filter((part) => part !== "");
}

// split parts a prefix from number and check.
function split(parts) {
  if (parts.length === 3 && parts[2].length === 1) {
    const n = parts[0].length;
    return n < shortest || n > longest ? ["", parts[1] + parts[2]] : [parts[0], parts[1] + parts[2]];
  }
  const signs = parts.join("");
  let at = [...signs].findIndex((sign) => !isLetter(sign));
  at = Math.min(Math.max(at, shortest), longest, signs.length);
  return signs.length - at < digits ? ["", signs.slice(at)] : [signs.slice(0, at), signs.slice(at)];
}

// each reads signs, the look-alikes among them as what belongs there.
function each(text, like, belongs, seen, met) {
  let out = "";
  for (const sign of text) {
    let read = sign;
    if (belongs(sign)) {
      // as it should be
    } else if (sign in like) {
      read = like[sign];
      seen[met] = true;
      if (!seen.sign) [seen.sign, seen.as] = [sign, read];
    } else if (!seen.bad) seen.bad = sign;
    out += read;
  }
  return out;
}

// refuse tells what a text that can't be split lacks.
function refuse(signs, rest) {
  for (const sign of signs) if (!/^[A-Za-z0-9]$/.test(sign)) return {remark: "no_sign", sign};
  return {remark: rest.length === 1 && isDigit(rest) ? "no_check" : "not_a_code"};
}

const swap = (text, i) => text.slice(0, i - 1) + text[i] + text[i - 1] + text.slice(i + 1);

// swapped are the codes that hold when two neighbouring digits, or letters of the prefix,
// were swapped.
function swapped(code, check) {
  const near = [], number = written(code.number);
  const attempt = (prefix, number) => {
    const n = Number(number);
    if (n < 1 || n > largest || prefix === code.prefix && n === code.number) return;
    const other = codeOf(prefix, n);
    if (other.text.endsWith(check) && !near.includes(other.text)) near.push(other.text);
  };
  for (let i = 1; i < code.prefix.length; i++) attempt(swap(code.prefix, i), number);
  for (let i = 1; i < number.length; i++) attempt(code.prefix, swap(number, i));
  return near;
}

// parse reads a label as people type it: {code, remark}, and sign, as or near where the
// remark needs them. code is missing when the remark refuses the text.
export function parse(text) {
  const parts = plain(text), signs = parts.join("");
  if (signs === "") return {remark: "empty"};
  const [prefix, rest] = split(parts);
  if (prefix === "" || rest.length < 2 || /[^\x00-\x7f]/.test(signs)) return refuse(signs, rest);
  const seen = {};
  const head = each(prefix, forLetter, isLetter, seen, "inLetters");
  let number = each(rest.slice(0, -1), forDigit, isDigit, seen, "inDigits");
  const last = rest.slice(-1), check = each(last, forLetter, isLetter, seen, "inLetters");
  if (seen.bad && seen.bad === last && isDigit(last)) return {remark: "no_check"};
  if (seen.bad) return {remark: "no_sign", sign: seen.bad};
  if (seen.inLetters && seen.inDigits) return {remark: "wrong_check", near: []};
  number = number.replace(/^0+/, "");
  if (number === "" || number.length > 7) return {remark: "no_number"};
  const code = codeOf(head, Number(number));
  if (!code.text.endsWith(check)) return {remark: "wrong_check", near: swapped(code, check)};
  if (seen.sign) return {code, remark: "look_alike", sign: seen.sign, as: seen.as};
  return {code, remark: text.replace(/^\p{White_Space}+|\p{White_Space}+$/gu, "") === code.text ? "as_written" : "tidied"};
}

// parseKit reads the code of a kit, as ABC-DEF-GHX; "" when it is none.
export function parseKit(text) {
  const signs = [...plain(text).join("")].map((sign) => isLetter(sign) ? sign : forLetter[sign] ?? "");
  const code = signs.join("");
  if (signs.length !== 9 || code.length !== 9 || checkOf(code.slice(0, 8)) !== code[8]) return "";
  return `${code.slice(0, 3)}-${code.slice(3, 6)}-${code.slice(6)}`;
}
