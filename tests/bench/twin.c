/* The open network of benches of shoplib/workshop/kernel.py (run_network) in C, for timing and for equal paths.
 *
 *     gcc -Ofast -march=native -shared -fPIC -o twin.so twin.c -lm
 *
 * Same design, tuned: events by a scan over people, idle people and skills as bits, queues as bit sets, first visits drawn
 * eight wide by gcc's vectoriser (explicit simd loops, no branch in the normal deviate). Log-normal hours, at most 15 people.
 */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

typedef uint64_t word;
#define GOLDEN 0x9E3779B97F4A7C15ull
#define NEVER 0xFFFFFFFFFFFFFFFFull
#define SLOT 127ull
#define BLOCK 64
#define HOURS 0
#define WHERE 2
#define GAP 13
#define FAR_WORD 256204778ull
#define INLINE static inline __attribute__((always_inline))

INLINE word bits(double x) { word w; memcpy(&w, &x, 8); return w; }
INLINE double real(word w) { double x; memcpy(&x, &w, 8); return x; }
INLINE word mix(word x) {
    x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9ull;
    x = (x ^ (x >> 27)) * 0x94D049BB133111EBull;
    return x ^ (x >> 31);
}
INLINE word counter(word purpose, word order, word stage, word visit) { return ((order << 5 | purpose) << 12) | stage << 6 | visit; }
INLINE double unit(word w) { return ((double)(int64_t)(w >> 11) + 0.5) * 1.1102230246251565e-16; }

/* floor through the exponent bits: -Ofast would simplify the usual shift by 1.5 * 2^52 away */
INLINE double exponential(double x) {
    double k = rint(x * 1.4426950408889634), r = (x - k * 6.93147180369123816490e-01) - k * 1.90821492927058770002e-10;
    double p = 1 / 479001600.0;
    p = p * r + 1 / 39916800.0; p = p * r + 1 / 3628800.0; p = p * r + 1 / 362880.0; p = p * r + 1 / 40320.0; p = p * r + 1 / 5040.0;
    p = p * r + 1 / 720.0; p = p * r + 1 / 120.0; p = p * r + 1 / 24.0; p = p * r + 1 / 6.0; p = (p * r + 0.5) * r + 1.0;
    return (p * r + 1.0) * real((word)((int64_t)k + 1023) << 52);
}
INLINE double logarithm(double x) {
    word w = bits(x) - 0x3FE6A09E667F3BCDull;
    double e = (double)((int64_t)w >> 52), f = real((w & 0x000FFFFFFFFFFFFFull) + 0x3FE6A09E667F3BCDull) - 1.0;
    double s = f / (2.0 + f), z = s * s, h = 0.5 * f * f, p = z * 1.479819860511658591e-01 + 1.531383769920937332e-01;
    p = p * z + 1.818357216161805012e-01; p = p * z + 2.222219843214978396e-01; p = p * z + 2.857142874366239149e-01;
    p = p * z + 3.999999999940941908e-01; p = p * z + 6.666666666666735130e-01;
    return e * 6.93147180369123816490e-01 - ((h - (s * (h + p * z) + e * 1.90821492927058770002e-10)) - f);
}

static const double CA[8] = {3.3871328727963666080e0, 1.3314166789178437745e2, 1.9715909503065514427e3, 1.3731693765509461125e4,
    4.5921953931549871457e4, 6.7265770927008700853e4, 3.3430575583588128105e4, 2.5090809287301226727e3};
static const double CB[8] = {1.0, 4.2313330701600911252e1, 6.8718700749205790830e2, 5.3941960214247511077e3, 2.1213794301586595867e4,
    3.9307895800092710610e4, 2.8729085735721942674e4, 5.2264952788528545610e3};
static const double TA[8] = {1.42343711074968357734e0, 4.63033784615654529590e0, 5.76949722146069140550e0, 3.64784832476320460504e0,
    1.27045825245236838258e0, 2.41780725177450611770e-1, 2.27238449892691845833e-2, 7.74545014278341407640e-4};
static const double TB[8] = {1.0, 2.05319162663775882187e0, 1.67638483018380384940e0, 6.89767334985100004550e-1,
    1.48103976427480074590e-1, 1.51986665636164571966e-2, 5.47593808499534494600e-4, 1.05075007164441684324e-9};
static const double FA[8] = {6.65790464350110377720e0, 5.46378491116411436990e0, 1.78482653991729133580e0, 2.96560571828504891230e-1,
    2.65321895265761230930e-2, 1.24266094738807843860e-3, 2.71155556874348757815e-5, 2.01033439929228813265e-7};
static const double FB[8] = {1.0, 5.99832206555887937690e-1, 1.36929880922735805310e-1, 1.48753612908506148525e-2,
    7.86869131145613259100e-4, 1.84631831751005468180e-5, 1.42151175831644588870e-7, 2.04426310338993978564e-15};

INLINE double poly(const double *c, double x) {
    return ((((((c[7] * x + c[6]) * x + c[5]) * x + c[4]) * x + c[3]) * x + c[2]) * x + c[1]) * x + c[0];
}
INLINE double near_normal(double u) {
    double q = u - 0.5, r = 0.180625 - q * q, low = u < 1.0 - u ? u : 1.0 - u, t = sqrt(-logarithm(low)) - 1.6;
    double ta = copysign(poly(TA, t), q), tb = poly(TB, t), ca = q * poly(CA, r), cb = poly(CB, r);
    return (r >= 0.0 ? ca : ta) / (r >= 0.0 ? cb : tb);
}
static double normal(double u) {
    double tail = u < 1.0 - u ? u : 1.0 - u;
    if (tail > 1.3887943864964021e-11) return near_normal(u);
    double t = sqrt(-log(tail)) - 5.0;
    return copysign(poly(FA, t) / poly(FB, t), u - 0.5);
}

static void fill_hours(word start, const word *restrict steps, const double *restrict mean, const double *restrict sd,
                       double *restrict hours, long n) {
    word nearest = NEVER;
    #pragma GCC ivdep
    for (long i = 0; i < n; i++) {
        word w = mix(start + steps[i]), far = w + FAR_WORD;
        nearest = far < nearest ? far : nearest;
        hours[i] = exponential(mean[i] + sd[i] * near_normal(unit(w)));
    }
    if (nearest < 2 * FAR_WORD)
        for (long i = 0; i < n; i++) hours[i] = exponential(mean[i] + sd[i] * normal(unit(mix(start + steps[i]))));
}

static void fill_gaps(word start, double gap, double *restrict gaps, long n) {
    #pragma GCC ivdep
    for (long i = 0; i < n; i++) gaps[i] = -gap * logarithm(unit(mix(start + (word)i * (GOLDEN << 17))));
}

INLINE word key_of(double time, word slot) { return (bits(time) & ~SLOT) | slot; }

void run_network(word seed, word first, long replications, long n, long S, long P, double gap, const double *mean, const double *sd,
                 const word *usual, const word *usual_word, const double *onward, const word *people_of, const word *stages_of,
                 long counted_from, long counted_to, double *arrival, double *finish, double *totals, int64_t *events) {
    long block = n < BLOCK ? n : BLOCK, W = n / 64 + 2;
    word *steps = malloc(8 * block * S), *words = calloc(S * W, 8), head[64], doing[16], at[16];
    double *bm = malloc(8 * block * S), *bs = malloc(8 * block * S), *work = malloc(8 * n * S), *entered = malloc(8 * n), end[16];
    long count[64];
    word keys[16] __attribute__((aligned(64)));
    for (long i = 0; i < block * S; i++) {
        steps[i] = counter(HOURS, i / S, i % S, 0) * GOLDEN;
        bm[i] = mean[i % S]; bs[i] = sd[i % S];
    }
    for (long r = 0; r < replications; r++) {
        word stream = mix(mix(seed * GOLDEN + 1) + (first + (word)r) * GOLDEN);
        double *came = arrival + r * n, *done = finish + r * n, *total = totals + r * S * 3;
        for (long s = 0; s < S; s++) { head[s] = n; count[s] = 0; }
        for (int i = 0; i < 16; i++) keys[i] = NEVER;
        word idle = (1ull << P) - 1, waiting = 0;
        long drawn = 0, coming = 0, passed = 0;
        for (;;) {
            if (coming == drawn && drawn < n) {
                long m = block < n - drawn ? block : n - drawn;
                double last = drawn ? came[drawn - 1] : 0.0;
                fill_hours(stream + counter(HOURS, drawn, 0, 0) * GOLDEN, steps, bm, bs, work + drawn * S, m * S);
                fill_gaps(stream + counter(GAP, drawn, 0, 0) * GOLDEN, gap, came + drawn, m);
                for (long i = drawn; i < drawn + m; i++) came[i] = last += came[i];
                drawn += m;
                keys[P] = key_of(came[coming], P);
            }
            word best = keys[0];
            for (int i = 1; i < 16; i++) best = keys[i] < best ? keys[i] : best;
            if (best == NEVER) break;
            passed++;
            word p = best & SLOT, o, key, t;
            long s;
            double now;
            if (p == (word)P) {
                o = coming++;
                now = came[o];
                keys[P] = coming < drawn ? key_of(came[coming], P) : NEVER;
                s = 0;
                key = counter(WHERE, o, 63, 0);
            } else {
                now = end[p]; o = doing[p]; s = at[p] + 1;
                key = counter(WHERE, o, at[p], (word)-work[o * S + at[p]]);
            }
            t = usual[s];
            if (usual_word[s] != NEVER) {
                word w = mix(stream + key * GOLDEN);
                if (w >= usual_word[s]) for (t = 0; onward[s * (S + 1) + t] < unit(w); t++);
            }
            int placed = t == (word)S;
            if (placed) done[o] = now;
            entered[o] = now;
            word q = P, take = o, stage = t;
            if (!placed) {
                word asked = idle & people_of[t];
                if (asked) { q = __builtin_ctzll(asked); idle &= ~(1ull << q); placed = 1; }
            }
            for (int again = p != (word)P;; again = 0) {
                if (q != (word)P) {
                    long i = take * S + stage;
                    double hours = work[i];
                    if (hours < 0.0) {
                        hours = exponential(mean[stage] + sd[stage] * normal(unit(mix(stream + counter(HOURS, take, stage, (word)-hours) * GOLDEN))));
                        work[i] -= 1.0;
                    } else work[i] = -1.0;
                    end[q] = now + hours;
                    keys[q] = key_of(end[q], q);
                    doing[q] = take; at[q] = stage;
                    if (counted_from <= (long)take && (long)take < counted_to) {
                        total[stage * 3] += 1.0; total[stage * 3 + 1] += hours; total[stage * 3 + 2] += now - entered[take];
                    }
                }
                if (!again) break;
                take = n; q = p;
                for (word mine = waiting & stages_of[p]; mine; mine &= mine - 1) {
                    int k = __builtin_ctzll(mine);
                    if (head[k] < take) { take = head[k]; stage = k; }
                }
                if (!placed && (stages_of[p] >> t & 1) && o < take) { take = o; stage = t; placed = 1; }
                else if (take != (word)n) {
                    word *queue = words + stage * W, w = take >> 6;
                    queue[w] &= ~(1ull << (take & 63));
                    if (--count[stage] == 0) { waiting &= ~(1ull << stage); head[stage] = n; }
                    else { while (!queue[w]) w++; head[stage] = w << 6 | __builtin_ctzll(queue[w]); }
                } else { idle |= 1ull << p; keys[p] = NEVER; q = P; }
            }
            if (!placed) {
                words[t * W + (o >> 6)] |= 1ull << (o & 63);
                count[t]++;
                waiting |= 1ull << t;
                if (o < head[t]) head[t] = o;
            }
        }
        events[r] = passed;
    }
    free(steps); free(words); free(bm); free(bs); free(work); free(entered);
}
