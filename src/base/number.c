#include "base/number.h"

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

__extension__ typedef unsigned __int128 wide;

enum {
    MANTISSA_BITS = 53,
    DIGITS_IN_WORD = 19, /* any 19 digits fit 64 bits */
    /* A halfway point between two doubles has at most 767 significant digits; further digits only
     * say "and a bit more". */
    DIGITS_MAX = 800,
    EXPONENT_MAX = 100000000 /* far beyond anything finite, and sums of it fit an int */
};

const double PP_NUMBER_TENS[PP_NUMBER_EXACT_TENS + 1] = {
    1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* 5^0 .. 5^27: the powers of five that fit 64 bits. */
static const uint64_t FIVES[PP_NUMBER_EXACT_EXPONENT + 1] = {
    1u,
    5u,
    25u,
    125u,
    625u,
    3125u,
    15625u,
    78125u,
    390625u,
    1953125u,
    9765625u,
    48828125u,
    244140625u,
    1220703125u,
    6103515625u,
    30517578125u,
    152587890625u,
    762939453125u,
    3814697265625u,
    19073486328125u,
    95367431640625u,
    476837158203125u,
    2384185791015625u,
    11920928955078125u,
    59604644775390625u,
    298023223876953125u,
    1490116119384765625u,
    7450580596923828125u,
};

/* ------------------------------------------------------------------ reading, up to 19 digits -- */

static double power_of_two(int exponent) /* of a normal number */
{
    uint64_t bits = (uint64_t)(exponent + 1023) << (MANTISSA_BITS - 1);
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

/* bits * 2^exponent with `more` for a lost part above zero, rounded half to even; far from the ends
 * of the double range. */
static double round_bits(uint64_t bits, int exponent, bool more)
{
    int extra = 64 - __builtin_clzll(bits) - MANTISSA_BITS;
    if (extra <= 0) return (double)bits * power_of_two(exponent); /* and `more` is false */
    uint64_t half = (uint64_t)1 << (extra - 1);
    uint64_t rest = bits & (2 * half - 1), kept = bits >> extra;
    if (rest > half || (rest == half && (more || (kept & 1)))) kept++;
    return (double)kept * power_of_two(exponent + extra);
}

/* digits * 10^exponent: digits * 5^exponent is exact in 128 bits. */
static double scale_up(uint64_t digits, int exponent)
{
    wide product = (wide)digits * FIVES[exponent];
    uint64_t high = (uint64_t)(product >> 64);
    if (!high) return round_bits((uint64_t)product, exponent, false);
    int shift = 64 - __builtin_clzll(high);
    uint64_t lost = (uint64_t)product << (64 - shift);
    return round_bits((uint64_t)(product >> shift), exponent + shift, lost != 0);
}

/* digits / 10^decimals: long division of 128 bits by 5^decimals gives at least 62 bits of the
 * quotient, and the remainder says whether there is more. */
static double scale_down(uint64_t digits, int decimals)
{
    int up = __builtin_clzll(digits), divisor_up = __builtin_clzll(FIVES[decimals]);
    uint64_t divisor = FIVES[decimals] << divisor_up;
    wide numerator = (wide)(digits << up) << 63;
    uint64_t quotient = (uint64_t)(numerator / divisor);
    bool more = numerator != (wide)quotient * divisor;
    return round_bits(quotient, divisor_up - up - 63 - decimals, more);
}

double pp_number_scale(uint64_t digits, int exponent)
{
    if (digits == 0) return 0;
    if (digits <= (uint64_t)1 << MANTISSA_BITS) {
        /* both operands are exact, so one operation rounds once */
        if (exponent <= 0 && exponent >= -PP_NUMBER_EXACT_TENS)
            return (double)digits / PP_NUMBER_TENS[-exponent];
        if (exponent > 0 && exponent <= PP_NUMBER_EXACT_TENS)
            return (double)digits * PP_NUMBER_TENS[exponent];
    }
    return exponent >= 0 ? scale_up(digits, exponent) : scale_down(digits, -exponent);
}

/* -------------------------------------------------------------------- reading, the hard cases --
 */

/* A whole number of up to 128 * 64 bits: 801 digits shifted by 1075, or 10^1150 * 2^54. */
enum { BIG_WORDS = 128 };
typedef struct big {
    int words;
    uint64_t word[BIG_WORDS]; /* lowest first */
} big;

static void big_multiply_add(big *b, uint64_t factor, uint64_t addend)
{
    uint64_t carry = addend;
    for (int i = 0; i < b->words; i++) {
        wide product = (wide)b->word[i] * factor + carry;
        b->word[i] = (uint64_t)product;
        carry = (uint64_t)(product >> 64);
    }
    if (carry) b->word[b->words++] = carry;
}

static void big_multiply_power_of_ten(big *b, int power)
{
    for (; power >= DIGITS_IN_WORD; power -= DIGITS_IN_WORD)
        big_multiply_add(b, 10000000000000000000u, 0);
    for (; power > 0; power--) big_multiply_add(b, 10, 0);
}

static void big_shift_up(big *b, int bits)
{
    if (b->words == 0) return;
    int whole = bits / 64;
    memmove(b->word + whole, b->word, (size_t)b->words * sizeof b->word[0]);
    memset(b->word, 0, (size_t)whole * sizeof b->word[0]);
    b->words += whole;
    big_multiply_add(b, (uint64_t)1 << (bits % 64), 0);
}

static int big_compare(const big *a, const big *b)
{
    if (a->words != b->words) return a->words < b->words ? -1 : 1;
    for (int i = a->words - 1; i >= 0; i--)
        if (a->word[i] != b->word[i]) return a->word[i] < b->word[i] ? -1 : 1;
    return 0;
}

/* A decimal number as found in the text: digits[0 .. count-1] * 10^exponent, first digit not 0. */
typedef struct decimal_digits {
    bool negative;
    int count;
    int exponent;
    char digits[DIGITS_MAX + 1]; /* values, not characters */
} decimal_digits;

/* Compare the decimal with mantissa * 2^power, exactly. */
static int compare_with_binary(const decimal_digits *d, uint64_t mantissa, int power)
{
    big left, right;
    left.words = 0;
    right.words = 1;
    right.word[0] = mantissa;
    for (int i = 0; i < d->count; i++) big_multiply_add(&left, 10, (uint64_t)d->digits[i]);
    if (d->exponent >= 0)
        big_multiply_power_of_ten(&left, d->exponent);
    else
        big_multiply_power_of_ten(&right, -d->exponent);
    big_shift_up(power >= 0 ? &right : &left, power >= 0 ? power : -power);
    return big_compare(&left, &right);
}

/* Within a few units of the last place. */
static double estimate(const decimal_digits *d)
{
    uint64_t leading = 0;
    int used = d->count < DIGITS_IN_WORD ? d->count : DIGITS_IN_WORD;
    for (int i = 0; i < used; i++) leading = 10 * leading + (uint64_t)d->digits[i];
    int exponent = d->exponent + d->count - used;
    int rest = exponent < 0 ? -exponent : exponent;
    double value = (double)leading;
    for (; rest > 0; rest -= PP_NUMBER_EXACT_TENS) {
        double power = PP_NUMBER_TENS[rest < PP_NUMBER_EXACT_TENS ? rest : PP_NUMBER_EXACT_TENS];
        value = exponent < 0 ? value / power : value * power;
    }
    return value < DBL_MAX ? value : DBL_MAX;
}

/* Walk from the estimate to the double nearest to the decimal (ties to even); infinity when that
 * lies beyond the largest. */
static double round_exactly(const decimal_digits *d)
{
    enum { LOWEST_POWER = -1074, HIGHEST_DIGIT = 310, LOWEST_DIGIT = -330 };
    int size = d->exponent + d->count; /* value < 10^size */
    if (size > HIGHEST_DIGIT) return INFINITY;
    if (size < LOWEST_DIGIT) return 0;
    double value = estimate(d);
    for (;;) {
        uint64_t bits;
        memcpy(&bits, &value, sizeof bits);
        int power = (int)(bits >> (MANTISSA_BITS - 1));
        uint64_t mantissa = bits & (((uint64_t)1 << (MANTISSA_BITS - 1)) - 1);
        bool binade = mantissa == 0 && power > 1; /* the gap below is half the gap above */
        if (power) mantissa |= (uint64_t)1 << (MANTISSA_BITS - 1);
        power = (power ? power : 1) + LOWEST_POWER - 1;
        bool odd = mantissa & 1;

        int above = compare_with_binary(d, 2 * mantissa + 1, power - 1);
        if (above > 0 || (above == 0 && odd)) {
            if (value == DBL_MAX) return INFINITY;
            value = nextafter(value, INFINITY);
            continue;
        }
        if (mantissa == 0) return value;
        int below = binade ? compare_with_binary(d, 4 * mantissa - 1, power - 2)
                           : compare_with_binary(d, 2 * mantissa - 1, power - 1);
        if (below > 0 || (below == 0 && !odd)) return value;
        value = nextafter(value, 0);
    }
}

/* ------------------------------------------------------------------------------- reading text --
 */

static bool is_digit(char c) { return c >= '0' && c <= '9'; }
static bool is_blank(char c) { return c == ' ' || c == '\t'; }

/* What the text says, without the digits' values: where they stand and what the exponent is. */
typedef struct layout {
    const char *digits, *end; /* of the digits with the decimal mark among them */
    int exponent;             /* written after e */
    bool negative;
} layout;

static bool find_layout(const char *text, size_t length, char mark, layout *found)
{
    const char *at = text, *end = text + length;
    while (at < end && is_blank(*at)) at++;
    while (end > at && is_blank(end[-1])) end--;
    layout l = {0};
    if (at < end && (*at == '-' || *at == '+')) l.negative = *at++ == '-';
    l.digits = at;
    while (at < end && is_digit(*at)) at++;
    bool any = at > l.digits;
    if (at < end && *at == mark) {
        at++;
        while (at < end && is_digit(*at)) at++, any = true;
    }
    if (!any) return false;
    l.end = at;
    if (at < end && (*at == 'e' || *at == 'E')) {
        at++;
        bool minus = false;
        if (at < end && (*at == '-' || *at == '+')) minus = *at++ == '-';
        if (at == end) return false;
        for (; at < end && is_digit(*at); at++)
            if (l.exponent < EXPONENT_MAX) l.exponent = 10 * l.exponent + (*at - '0');
        if (minus) l.exponent = -l.exponent;
    }
    if (at != end) return false;
    *found = l;
    return true;
}

static void collect_digits(const layout *l, decimal_digits *d)
{
    d->count = 0;
    d->exponent = l->exponent;
    bool fraction = false, more = false;
    for (const char *at = l->digits; at < l->end; at++) {
        if (!is_digit(*at)) {
            fraction = true;
            continue;
        }
        bool leading_zero = *at == '0' && d->count == 0;
        if (d->count < DIGITS_MAX) {
            if (!leading_zero) d->digits[d->count++] = (char)(*at - '0');
            d->exponent -= fraction;
        } else {
            more |= *at != '0';
            d->exponent += !fraction;
        }
    }
    if (more) {
        d->digits[d->count++] = 1;
        d->exponent--;
    }
}

bool pp_number_read(const char *text, size_t length, char decimal, double *value)
{
    layout l;
    if (length > EXPONENT_MAX || !find_layout(text, length, decimal, &l)) return false;
    uint64_t digits = 0;
    int count = 0, exponent = l.exponent;
    bool fraction = false;
    for (const char *at = l.digits; at < l.end; at++) {
        if (!is_digit(*at)) {
            fraction = true;
            continue;
        }
        count += count > 0 || *at != '0';
        if (count > DIGITS_IN_WORD) break;
        digits = 10 * digits + (uint64_t)(*at - '0');
        exponent -= fraction;
    }
    double magnitude;
    if (digits == 0) {
        magnitude = 0;
    } else if (count <= DIGITS_IN_WORD && exponent >= -PP_NUMBER_EXACT_EXPONENT &&
               exponent <= PP_NUMBER_EXACT_EXPONENT) {
        magnitude = pp_number_scale(digits, exponent);
    } else {
        decimal_digits d;
        collect_digits(&l, &d);
        magnitude = round_exactly(&d);
        if (isinf(magnitude)) return false;
    }
    *value = l.negative ? -magnitude : magnitude;
    return true;
}

/* ------------------------------------------------------------------------------------ writing --
 */

enum { SIGNIFICANT = 15 };

static const char PAIRS[] =
    "00010203040506070809101112131415161718192021222324252627282930313233343536"
    "37383940414243444546474849505152535455565758596061626364656667686970717273"
    "7475767778798081828384858687888990919293949596979899";

/* The last `count` digits of `number`, ending before `end`. */
static void put_digits(char *end, uint64_t number, int count)
{
    for (; count >= 2; count -= 2, number /= 100) memcpy(end -= 2, PAIRS + 2 * (number % 100), 2);
    if (count) end[-1] = (char)('0' + number % 10);
}

static int count_digits(uint64_t number)
{
    int count = 1;
    for (; number >= 10; number /= 10) count++;
    return count;
}

/* value = mantissa * 2^power, value > 0 */
static uint64_t take_apart(double value, int *power)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    int biased = (int)(bits >> (MANTISSA_BITS - 1));
    uint64_t mantissa = bits & (((uint64_t)1 << (MANTISSA_BITS - 1)) - 1);
    *power = (biased ? biased : 1) - 1075;
    return biased ? mantissa | (uint64_t)1 << (MANTISSA_BITS - 1) : mantissa;
}

/* mantissa * 2^power * 10^decimals rounded half to even, exactly, for 0 <= decimals <= 27; false
 * when the result does not fit 63 bits. */
static inline bool scale_to_whole(uint64_t mantissa, int power, int decimals, uint64_t *whole)
{
    wide product = (wide)mantissa * FIVES[decimals]; /* below 2^116 */
    uint64_t high = (uint64_t)(product >> 64), low = (uint64_t)product;
    int down = -(power + decimals);
    /* rest + 1 exceeds a half where the rest is one: odd numbers go up on a tie */
    if (down >= 1 && down < 64) { /* nearly always: faster */
        static const uint64_t HALF = (uint64_t)1 << 63;
        if (high >> (down - 1)) return false;
        uint64_t kept = high << (64 - down) | low >> down, rest = low << (64 - down);
        *whole = kept + (rest + (kept & 1) > HALF);
        return true;
    }
    if (down <= 0) {
        if (down < -10 || product >> (63 + down)) return false;
        *whole = low << -down;
        return true;
    }
    if (down >= 118) {
        *whole = 0; /* below a quarter */
        return true;
    }
    wide kept = product >> down, half = (wide)1 << (down - 1);
    if (kept >> 63) return false;
    bool up = (product & (2 * half - 1)) + (kept & 1) > half;
    *whole = (uint64_t)kept + up;
    return true;
}

/* Kept out of the usual path, which needs no arrays then. */
#define RARELY __attribute__((noinline, cold))

/* The C library does the ends of the range; only its digits are taken, so that its locale does not
 * matter. */
RARELY static uint64_t digits_by_library(double value, int *exponent)
{
    char text[64];
    snprintf(text, sizeof text, "%.*e", SIGNIFICANT - 1, value);
    uint64_t digits = 0;
    const char *at = text;
    for (; *at && *at != 'e'; at++)
        if (is_digit(*at)) digits = 10 * digits + (uint64_t)(*at - '0');
    bool minus = *++at == '-';
    *exponent = 0;
    for (at++; is_digit(*at); at++) *exponent = 10 * *exponent + (*at - '0');
    if (minus) *exponent = -*exponent;
    return digits;
}

/* The 15 significant digits of value > 0 and the power of ten of the first. */
static uint64_t significant_digits(double value, int *exponent)
{
    enum { LOWEST_TEN = -13, HIGHEST_TEN = 15 };
    static const double TENS[] = {1e-13, 1e-12, 1e-11, 1e-10, 1e-9, 1e-8, 1e-7, 1e-6, 1e-5, 1e-4,
                                  1e-3,  1e-2,  1e-1,  1e0,   1e1,  1e2,  1e3,  1e4,  1e5,  1e6,
                                  1e7,   1e8,   1e9,   1e10,  1e11, 1e12, 1e13, 1e14, 1e15};
    static const uint64_t LOW = 100000000000000u, HIGH = 1000000000000000u;
    enum { LOG_2 = 315653, LOG_2_BITS = 20 }; /* log10 2 * 2^20, rounded up */
    int power;
    uint64_t mantissa = take_apart(value, &power), digits;
    /* floor of log10 of the first bit, so right or too low; the ends of the range, where it is not,
     * are left to the library */
    int top = ((power + MANTISSA_BITS - 1) * LOG_2) >> LOG_2_BITS;
    if (top >= LOWEST_TEN && top < HIGHEST_TEN) top += value >= TENS[top + 1 - LOWEST_TEN];
    for (;; top++) {
        int decimals = SIGNIFICANT - 1 - top;
        if (decimals < 0 || decimals > PP_NUMBER_EXACT_EXPONENT ||
            !scale_to_whole(mantissa, power, decimals, &digits) || digits < LOW)
            return digits_by_library(value, exponent);
        *exponent = top;
        if (digits < HIGH) return digits;
    }
}

/* The eight digits of number < 10^8 as characters, the first one in the lowest byte: fours are
 * split into pairs and these into digits. For numbers that small, multiplying and shifting divides
 * exactly. */
static uint64_t spell_eight(uint32_t number)
{
    uint64_t fours = number / 10000 | (uint64_t)(number % 10000) << 32;
    uint64_t hundreds = ((fours * 10486) >> 20) & 0x0000007F0000007Fu;
    uint64_t pairs = hundreds | (fours - 100 * hundreds) << 16;
    uint64_t tens = ((pairs * 103) >> 10) & 0x000F000F000F000Fu;
    return (tens | (pairs - 10 * tens) << 8) | 0x3030303030303030u;
}

/* 15 digits and one 0 behind them, eight by eight. */
typedef struct spelled {
    uint64_t front, back;
    int count; /* without trailing zeros */
} spelled;

static spelled spell_significant(uint64_t digits)
{
    enum { BACK = 10000000 };
    static const uint64_t ZEROS = 0x3030303030303030u;
    spelled s = {.front = spell_eight((uint32_t)(digits / BACK)),
                 .back = spell_eight((uint32_t)(digits % BACK) * 10)};
    s.count = s.back != ZEROS ? 16 - __builtin_clzll(s.back ^ ZEROS) / 8
                              : 8 - __builtin_clzll(s.front ^ ZEROS) / 8;
    return s;
}

static void put_eight(char *text, uint64_t characters)
{
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
    characters = __builtin_bswap64(characters);
#endif
    memcpy(text, &characters, sizeof characters);
}

static void put_all(char *text, spelled s)
{
    put_eight(text, s.front);
    put_eight(text + 8, s.back);
}

/* d.ddde+XX */
RARELY static size_t write_with_exponent(char *text, spelled s, int exponent)
{
    char digits[16], *at = text;
    put_all(digits, s);
    *at++ = digits[0];
    if (s.count > 1) {
        *at++ = '.';
        memcpy(at, digits + 1, (size_t)s.count - 1);
        at += s.count - 1;
    }
    *at++ = 'e';
    *at++ = exponent < 0 ? '-' : '+';
    int size = exponent < 0 ? -exponent : exponent, places = size >= 100 ? 3 : 2;
    put_digits(at + places, (uint64_t)size, places);
    return (size_t)(at + places - text);
}

/* Puts all digits whatever the count, eight at a time: faster than only those that count. */
static size_t write_plain(char *text, spelled s, int exponent)
{
    int before = exponent + 1; /* digits before the point */
    if (before <= 0) {
        memcpy(text, "0.000", 5); /* exponent is at least -4 */
        put_all(text + 2 - before, s);
        return (size_t)(2 - before + s.count);
    }
    put_all(text, s);
    if (s.count <= before) return (size_t)before;
    text[before] = '.';
    if (before < 8) {
        put_eight(text + before + 1, s.front >> 8 * before | s.back << (64 - 8 * before));
        put_eight(text + before + 9, s.back >> 8 * before);
    } else {
        put_eight(text + before + 1, s.back >> 8 * (before - 8));
    }
    return (size_t)s.count + 1;
}

size_t pp_number_write(char text[PP_NUMBER_TEXT_MAX], double value)
{
    size_t length = 0;
    if (value == 0) {
        text[length++] = '0';
    } else if (isfinite(value)) {
        int exponent;
        text[0] = '-';
        length = value < 0;
        spelled s = spell_significant(significant_digits(fabs(value), &exponent));
        bool plain = exponent >= -4 && exponent < SIGNIFICANT;
        length += plain ? write_plain(text + length, s, exponent)
                        : write_with_exponent(text + length, s, exponent);
    }
    text[length] = '\0';
    return length;
}

size_t pp_number_write_fixed(char text[PP_NUMBER_TEXT_MAX], double value, int decimals)
{
    text[0] = '\0';
    if (!isfinite(value)) return 0;
    int power;
    uint64_t mantissa = take_apart(fabs(value), &power), whole;
    if (!scale_to_whole(mantissa, power, decimals, &whole)) return pp_number_write(text, value);
    char *at = text;
    if (value < 0 && whole) *at++ = '-';
    int count = count_digits(whole);
    if (count <= decimals) count = decimals + 1;
    put_digits(at + count, whole, count);
    if (decimals) {
        char *point = at + count - decimals;
        memmove(point + 1, point, (size_t)decimals);
        *point = '.';
        count++;
    }
    at[count] = '\0';
    return (size_t)(at + count - text);
}
