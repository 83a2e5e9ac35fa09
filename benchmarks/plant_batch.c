/* Steady state of one NaCl plant under many conditions: a plain scalar loop to measure the batch solver against.

   supply - R Q^2  ->  tube  ->  cartridge  ->  n like elements side by side  ->  restrictor to drain
                                                                             ->  lift and float valve to the tank

   The elements are marched with the classical Runge-Kutta method over equal steps; two unknowns, the tap's flow and the
   product's pressure, are found by Newton's method with Broyden's updates. SI throughout, salt in kg/m3.

   Standard input:  SITE_NUMBERS doubles in the order of `Site`, the number of conditions, then per condition temperature (K),
   standing pressure (Pa), salt (kg/m3), all as native doubles. Standard output: the seconds the loop took by the clock
   and of the processor, then per condition the doubles of `Answer`. */

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

typedef struct {
    double resistance;                                  /* Pa/(m3/s)^2 */
    double bore, tube_length, fittings, roughness;      /* m, m, -, m */
    double cartridge;                                   /* Pa/(m3/s) at 20 C */
    double elements, area, length, channel, porosity;   /* -, m2, m, m, - */
    double water_permeance, salt_permeance;             /* at 25 C: m/(s Pa), m/s */
    double water_activation, salt_activation;           /* K */
    double restrictor_flow, restrictor_at, exponent;    /* m3/s, Pa, - */
    double lift, float_open;                            /* m, m3/s at 1 bar */
    double osmotic_root;                                /* (m3/kg)^0.5: pi = 2 R T c / M (1 - osmotic_root sqrt(c)) */
    double steps;
} Site;
enum { SITE_NUMBERS = sizeof(Site) / sizeof(double) };

typedef struct {
    double tap, product, drain;                         /* m3/s */
    double membrane, outlet, back;                      /* Pa */
    double product_salt, drain_salt;                    /* kg/m3 */
    double marches;                                     /* how often the elements were marched; negative: not found */
} Answer;

typedef struct {                                        /* everything that one condition fixes */
    double standing, salt, density, viscosity, viscosity_ratio;
    double water, permeation;                           /* permeances at temperature */
    double osmotic, osmotic_root;
    double film, slit3, loss;                           /* k_SM^3 = film Q^2.625, k_lam^3, dP/dx = -loss Q^1.7 */
    double across;                                      /* membrane area per length, m */
} Condition;

typedef struct { double flow, salt, pressure; } State;  /* feed side: m3/s, kg/s, Pa */

static const double PI = 3.14159265358979323846, GAS = 8.314462618, MOLAR_MASS = 0.0584428, WARM = 298.15;

static double viscosity(double kelvin)                  /* IAPWS 2008, 0.1 MPa, four terms */
{
    double t = kelvin / 300;
    return 1e-6 * (280.68 * pow(t, -1.9) + 511.45 * pow(t, -7.7) + 61.131 * pow(t, -19.6) + 0.45903 * pow(t, -40));
}

static double density(double kelvin)                    /* Kell 1975 */
{
    double t = kelvin - 273.15;
    double top = 999.83952
        + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t))));
    return top / (1 + 16.879850e-3 * t);
}

static Condition prepare(const Site *s, double kelvin, double standing, double salt)
{
    Condition c;
    double warmth = 1 / WARM - 1 / kelvin;
    double mu = viscosity(kelvin), rho = density(kelvin);
    double diffusivity = 1.61e-9 * (kelvin / WARM) * viscosity(WARM) / mu;
    double width = s->elements * s->area / (2 * s->length);
    double diameter = 4 * s->porosity / (2 / s->channel + 8 * (1 - s->porosity) / s->channel);
    double speed = 1 / (width * s->channel * s->porosity);              /* velocity per flow */
    double reynolds = rho * speed * diameter / mu;                      /* Reynolds number per flow */
    double film = 0.065 * pow(reynolds, 0.875) * pow(mu / (rho * diffusivity), 0.25) * diffusivity / diameter;
    double slit = 7.54 * diffusivity / (2 * s->channel);
    c.standing = standing;
    c.salt = salt;
    c.density = rho;
    c.viscosity = mu;
    c.viscosity_ratio = mu / viscosity(293.15);
    c.water = s->water_permeance * exp(s->water_activation * warmth);
    c.permeation = s->salt_permeance * exp(s->salt_activation * warmth);
    c.osmotic = 2 * GAS * kelvin / MOLAR_MASS;
    c.osmotic_root = s->osmotic_root;
    c.film = film * film * film;
    c.slit3 = slit * slit * slit;
    c.loss = 6.23 * pow(reynolds, -0.3) / diameter * rho * speed * speed / 2;
    c.across = 2 * width;
    return c;
}

static double friction(double reynolds, double roughness)
{
    double laminar = 64 / reynolds, x = 6, turbulent, s;                /* x = 1/sqrt(f) */
    if (reynolds <= 2000)
        return laminar;
    for (int i = 0; i < 20; i++) {
        double inside = roughness / 3.7 + 2.51 * x / reynolds;
        double miss = x + 2 * log10(inside);
        double step = miss / (1 + 2 / log(10) * 2.51 / reynolds / inside);
        x -= step;
        if (fabs(step) < 1e-12 * x)
            break;
    }
    turbulent = 1 / (x * x);
    if (reynolds >= 4000)
        return turbulent;
    s = log(reynolds / 2000) / log(2);
    s = s * s * (3 - 2 * s);
    return (1 - s) * laminar + s * turbulent;
}

static double membrane_pressure(const Site *s, const Condition *c, double tap)
{
    double velocity = 4 * tap / (PI * s->bore * s->bore);
    double f = friction(c->density * velocity * s->bore / c->viscosity, s->roughness / s->bore);
    double tube = (f * s->tube_length / s->bore + s->fittings) * c->density * velocity * velocity / 2;
    return c->standing - s->resistance * tap * tap - tube - s->cartridge * tap * c->viscosity_ratio;
}

static double product_line(const Site *s, const Condition *c, double product)
{
    double share = product / s->float_open;
    return c->density * 9.80665 * s->lift + 1e5 * share * fabs(share);
}

static double restrictor(const Site *s, double pressure)
{
    return pressure > 0 ? s->restrictor_flow * pow(pressure / s->restrictor_at, s->exponent) : 0;
}

/* Slopes along the channel at one place; *flux holds the last water flux and comes back as the one here. */
static State slopes(const Condition *c, const State *at, double product_pressure, double *flux)
{
    double bulk = at->salt / at->flow, net = at->pressure - product_pressure;
    double log_flow = log(at->flow);
    double k = cbrt(c->film * exp(2.625 * log_flow) + c->slit3);
    double j = *flux, product = 0;
    for (int i = 0; i < 30; i++) {
        double e = exp(j / k), de = e / k;
        double under = j + c->permeation * e;
        product = c->permeation * e * bulk / under;
        double d_product = c->permeation * bulk * (de * j - e) / (under * under);
        double wall = product + (bulk - product) * e;
        double d_wall = d_product * (1 - e) + (bulk - product) * de;
        double root_wall = c->osmotic_root * sqrt(wall), root_product = c->osmotic_root * sqrt(product);
        double pi = c->osmotic * (wall * (1 - root_wall) - product * (1 - root_product));
        double d_pi = c->osmotic * (d_wall * (1 - 1.5 * root_wall) - d_product * (1 - 1.5 * root_product));
        double step = (j - c->water * (net - pi)) / (1 + c->water * d_pi);
        j -= step;
        if (j <= 0)
            j = 0.1 * (j + step);
        else if (fabs(step) < 1e-7 * j)                                 /* the next step would be near 1e-14 */
            break;
    }
    *flux = j;
    product = c->permeation * exp(j / k);
    product = product * bulk / (j + product);
    return (State){-c->across * j, -c->across * j * product, -c->loss * exp(1.7 * log_flow)};
}

static State along(const State *at, const State *slope, double step)
{
    return (State){at->flow + step * slope->flow, at->salt + step * slope->salt, at->pressure + step * slope->pressure};
}

/* From inlet to outlet. Returns 0 where the channel runs dry or the pressure is used up. */
static int march(const Site *s, const Condition *c, State *at, double product_pressure)
{
    int steps = (int)s->steps;
    double h = s->length / steps;
    double flux = 0.8 * c->water * (at->pressure - product_pressure);
    for (int i = 0; i < steps; i++) {
        State middle, end, a, b, d, e;
        a = slopes(c, at, product_pressure, &flux);
        middle = along(at, &a, h / 2);
        if (middle.flow <= 0 || middle.pressure <= product_pressure) return 0;
        b = slopes(c, &middle, product_pressure, &flux);
        middle = along(at, &b, h / 2);
        if (middle.flow <= 0 || middle.pressure <= product_pressure) return 0;
        d = slopes(c, &middle, product_pressure, &flux);
        end = along(at, &d, h);
        if (end.flow <= 0 || end.pressure <= product_pressure) return 0;
        e = slopes(c, &end, product_pressure, &flux);
        at->flow += h / 6 * (a.flow + 2 * (b.flow + d.flow) + e.flow);
        at->salt += h / 6 * (a.salt + 2 * (b.salt + d.salt) + e.salt);
        at->pressure += h / 6 * (a.pressure + 2 * (b.pressure + d.pressure) + e.pressure);
        if (at->flow <= 0 || at->pressure <= product_pressure) return 0;
    }
    return 1;
}

/* What the drain and the product line leave over, each relative. Returns 0 where the elements cannot be marched. */
static int misses(const Site *s, const Condition *c, const double x[2], double miss[2], Answer *answer)
{
    double membrane = x[0] > 0 ? membrane_pressure(s, c, x[0]) : 0;
    State at = {x[0], x[0] * c->salt, membrane};
    answer->marches += 1;
    if (x[0] <= 0 || membrane <= x[1] || !march(s, c, &at, x[1]))
        return 0;
    answer->tap = x[0];
    answer->product = x[0] - at.flow;
    answer->drain = at.flow;
    answer->membrane = membrane;
    answer->outlet = at.pressure;
    answer->back = x[1];
    answer->product_salt = (x[0] * c->salt - at.salt) / answer->product;
    answer->drain_salt = at.salt / at.flow;
    miss[0] = (at.flow - restrictor(s, at.pressure)) / x[0];
    miss[1] = (x[1] - product_line(s, c, answer->product)) / membrane;
    return 1;
}

static Answer solve(const Site *s, const Condition *c)
{
    Answer answer = {0};
    double area = s->elements * s->area;
    double net = 0.9 * c->standing - product_line(s, c, 0) - 2 * c->osmotic * c->salt;
    double x[2], miss[2], inverse[2][2];
    double product = 0.7 * c->water * area * (net > 0 ? net : 0.1 * c->standing);
    x[0] = product + restrictor(s, 0.9 * c->standing);
    x[1] = product_line(s, c, product);
    for (int i = 0; i < 20 && !misses(s, c, x, miss, &answer); i++)
        x[0] *= i < 10 ? 1.2 : 0.5;

    double jacobian[2][2];
    for (int j = 0; j < 2; j++) {
        double moved[2] = {x[0], x[1]}, other[2], by = j ? 1e-5 * c->standing : 1e-5 * x[0];
        moved[j] += by;
        if (!misses(s, c, moved, other, &answer)) {
            answer.marches = -1;
            return answer;
        }
        for (int i = 0; i < 2; i++)
            jacobian[i][j] = (other[i] - miss[i]) / by;
    }
    double determinant = jacobian[0][0] * jacobian[1][1] - jacobian[0][1] * jacobian[1][0];
    inverse[0][0] = jacobian[1][1] / determinant;
    inverse[0][1] = -jacobian[0][1] / determinant;
    inverse[1][0] = -jacobian[1][0] / determinant;
    inverse[1][1] = jacobian[0][0] / determinant;

    for (int round = 0; round < 60; round++) {
        double step[2], trial[2], after[2], share = 1;
        for (int i = 0; i < 2; i++)
            step[i] = -(inverse[i][0] * miss[0] + inverse[i][1] * miss[1]);
        for (;;) {
            trial[0] = x[0] + share * step[0];
            trial[1] = x[1] + share * step[1];
            if (misses(s, c, trial, after, &answer))
                break;
            share /= 2;
            if (share < 1e-3) {
                answer.marches = -1;
                return answer;
            }
        }
        if (fabs(after[0]) * answer.tap < 1e-9 * answer.drain && fabs(after[1]) < 1e-9)
            return answer;
        /* Broyden: inverse += (dx - inverse dmiss) dx^T inverse / (dx^T inverse dmiss) */
        double dx[2] = {share * step[0], share * step[1]};
        double change[2] = {after[0] - miss[0], after[1] - miss[1]}, moved[2], row[2], under = 0;
        double scale[2] = {1 / (x[0] * x[0]), 1 / (c->standing * c->standing)};     /* both unknowns count alike */
        for (int i = 0; i < 2; i++)
            moved[i] = inverse[i][0] * change[0] + inverse[i][1] * change[1];
        for (int i = 0; i < 2; i++) {
            row[i] = scale[0] * dx[0] * inverse[0][i] + scale[1] * dx[1] * inverse[1][i];
            under += scale[i] * dx[i] * moved[i];
        }
        for (int i = 0; i < 2; i++)
            for (int j = 0; j < 2; j++)
                inverse[i][j] += (dx[i] - moved[i]) * row[j] / under;
        for (int i = 0; i < 2; i++) {
            x[i] = trial[i];
            miss[i] = after[i];
        }
    }
    answer.marches = -1;
    return answer;
}

static double now(clockid_t which)
{
    struct timespec time;
    clock_gettime(which, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

int main(void)
{
    Site site;
    double number;
    if (fread(&site, sizeof site, 1, stdin) != 1 || fread(&number, sizeof number, 1, stdin) != 1)
        return 2;
    size_t count = (size_t)number;
    double (*conditions)[3] = malloc(count * sizeof *conditions);
    Answer *answers = malloc(count * sizeof *answers);
    if (!conditions || !answers || fread(conditions, sizeof *conditions, count, stdin) != count)
        return 2;

    double clock = now(CLOCK_MONOTONIC), processor = now(CLOCK_PROCESS_CPUTIME_ID);
    for (size_t i = 0; i < count; i++) {
        Condition condition = prepare(&site, conditions[i][0], conditions[i][1], conditions[i][2]);
        answers[i] = solve(&site, &condition);
    }
    double taken[2] = {now(CLOCK_MONOTONIC) - clock, now(CLOCK_PROCESS_CPUTIME_ID) - processor};

    fwrite(taken, sizeof taken, 1, stdout);
    fwrite(answers, sizeof *answers, count, stdout);
    free(conditions);
    free(answers);
    return 0;
}
