#include "holes/frame_check.h"

#include <math.h>
#include <stdio.h>

#include "base/constants.h"
#include "base/grid.h"

/* ---- the frame ---- */

typedef struct similarity { /* scale, then perhaps the sign of x, then the motion */
    double scale;
    bool mirrored;
    pp_pose pose;
    double rms;
} similarity;

typedef struct pairs {
    const pp_gathered *gathered;
    const pp_nominal *nominal;
    const pp_pose *poses;
    int face;
    size_t count;
} pairs;

static bool is_pair(const pairs *p, size_t bore)
{
    const pp_bore *b = &p->gathered->bores[bore];
    return b->face == p->face && p->nominal->kind[b->hole] == PP_TUBE_HOLE;
}

static pp_measured_point scaled(const pairs *p, size_t bore, const similarity *s)
{
    pp_plate_point at = pp_pose_apply(p->poses[p->face], p->gathered->centre[bore]);
    return (pp_measured_point){at.x * s->scale * (s->mirrored ? -1 : 1), at.y * s->scale};
}

static double rms_of(const pairs *p, const similarity *s)
{
    double sum = 0;
    for (size_t i = 0; i < p->gathered->extra_first; i++) {
        if (!is_pair(p, i)) continue;
        pp_nominal_point nominal = pp_nominal_at(p->nominal, p->gathered->bores[i].hole);
        pp_offset off = pp_offset_from(nominal, pp_pose_apply(s->pose, scaled(p, i, s)));
        sum += off.dx * off.dx + off.dy * off.dy;
    }
    return sqrt(sum / (double)p->count);
}

static bool fit(const pairs *p, similarity *s)
{
    pp_fit_sums sums = {0};
    for (size_t i = 0; i < p->gathered->extra_first; i++) {
        if (!is_pair(p, i)) continue;
        pp_measured_point at = scaled(p, i, s);
        pp_nominal_point nominal = pp_nominal_at(p->nominal, p->gathered->bores[i].hole);
        if (sums.count == 0) sums = pp_fit_about(at, nominal);
        pp_fit_add(&sums, at, nominal);
    }
    if (!pp_fit_pose(&sums, &s->pose)) return false;
    s->rms = rms_of(p, s);
    return true;
}

/* "mirrored", "turned by 90 degrees": what the similarity does, NULL when nothing worth a word. */
static const char *words_of(const similarity *s, double pitch, const char **remedy, char *room,
                            size_t size)
{
    static const double CLOSE = 1; /* degree */
    double angle = pp_pose_angle_deg(s->pose), shift = hypot(s->pose.dx, s->pose.dy);
    bool turned = fabs(angle) > CLOSE;
    if (s->scale != 1) {
        *remedy = "write the unit into the header, or [holes] length_unit";
        return s->scale > 1 ? "25.4 times too small: inches read as millimetres"
                            : "25.4 times too large: millimetres read as inches";
    }
    if (s->mirrored) {
        *remedy = "give the plate as seen from the entry face, as the nominal list is; if the exit "
                  "face was measured, say so in a column face and with exit_view";
        bool exchanged = fabs(fabs(angle) - 90) < CLOSE;
        return exchanged                         ? "mirrored, x and y exchanged"
               : fabs(fabs(angle) - 180) < CLOSE ? "mirrored: y counts the other way"
               : turned                          ? "mirrored and turned"
                                                 : "mirrored: x counts the other way";
    }
    *remedy = "bring both lists into one frame, or say how they meet: [holes] align = two-holes, "
              "datum-points or best-fit";
    if (turned) {
        snprintf(room, size, "turned %s by %.1f degrees", angle < 0 ? "anticlockwise" : "clockwise",
                 fabs(angle)); /* the pose turns them back */
        return room;
    }
    if (shift < 2 * pitch) return NULL; /* a pattern in the wrong place is a result */
    snprintf(room, size,
             "shifted by x %.1f, y %.1f mm: the origin is elsewhere, in a corner perhaps",
             -s->pose.dx, -s->pose.dy);
    return room;
}

/* Few holes fit many ways. */
enum { HOLES_LEAST = 4, VIEW_LEAST = 20 };

/* ---- the names ---- */

typedef struct strangers { /* holes that lie where another one should be */
    size_t count;
    uint32_t hole[2], place[2]; /* the first two */
} strangers;

static strangers find_strangers(const pairs *p, const pp_grid *nominal_grid, double radius)
{
    strangers found = {0};
    for (size_t i = 0; i < p->gathered->extra_first; i++) {
        if (!is_pair(p, i)) continue;
        double distance;
        pp_plate_point at = pp_pose_apply(p->poses[p->face], p->gathered->centre[i]);
        uint32_t hole = p->gathered->bores[i].hole;
        uint32_t place = pp_grid_nearest(nominal_grid, at.x, at.y, radius, &distance);
        if (place == UINT32_MAX || place == hole) continue;
        if (found.count < 2) {
            found.hole[found.count] = hole;
            found.place[found.count] = place;
        }
        found.count++;
    }
    return found;
}

/* No drill puts a quarter of its holes onto the places of others. */
static pp_status check_names(const pp_hole_files *files, const pairs *p,
                             const pp_grid *nominal_grid, double pitch, pp_error *error)
{
    strangers s = find_strangers(p, nominal_grid, pitch / 10);
    if (files->placed_later || s.count < HOLES_LEAST || 4 * s.count <= p->count) return PP_OK;
    const char *const *name = files->nominal.name;
    return pp_fail_at(error, PP_EINPUT, files->measured.file, 0, 0,
                      "%zu of %zu measured holes lie where the nominal list has a hole of another "
                      "name: '%.40s' on the place of '%.40s', '%.40s' on that of '%.40s'; number "
                      "both lists alike, or leave the names out of the measured one, and each "
                      "reading goes to the nearest hole",
                      s.count, p->count, name[s.hole[0]], name[s.place[0]], name[s.hole[1]],
                      name[s.place[1]]);
}

pp_status pp_frame_check(const pp_hole_files *files, const pp_gathered *gathered,
                         const pp_pose poses[2], const pp_grid *nominal_grid, pp_align align,
                         double pitch, pp_datum_doubt *doubt, pp_error *error)
{
    static const double SCALES[] = {1, 25.4, 1 / 25.4};
    int face = gathered->faces[PP_ENTRY] ? PP_ENTRY : PP_EXIT;
    pairs p = {gathered, &files->nominal, poses, face, 0};
    for (size_t i = 0; i < gathered->extra_first; i++) p.count += is_pair(&p, i);
    if (p.count < HOLES_LEAST || !files->measured.name || !pp_given(pitch)) return PP_OK;
    similarity as_is = {.scale = 1, .pose = pp_pose_identity()}, best = {.rms = INFINITY};
    if (rms_of(&p, &as_is) <= pitch / 2) return PP_OK;
    for (size_t i = 0; i < 2 * sizeof SCALES / sizeof *SCALES; i++) {
        similarity s = {.scale = SCALES[i / 2], .mirrored = i % 2 == 1};
        if (fit(&p, &s) && s.rms < 0.999 * best.rms) best = s; /* the simpler one of two as good */
    }
    if (!(best.rms < pitch / 10)) return check_names(files, &p, nominal_grid, pitch, error);
    char room[128];
    const char *remedy, *words = words_of(&best, pitch, &remedy, room, sizeof room);
    bool moved = best.scale == 1 && !best.mirrored;
    if (!words || (files->placed_later && moved)) return PP_OK;
    if (moved && (align == PP_ALIGN_TWO_HOLES || align == PP_ALIGN_DATUM_POINTS)) {
        *doubt = (pp_datum_doubt){true, pp_pose_angle_deg(best.pose), best.pose.dx, best.pose.dy,
                                  best.rms};
        return PP_OK;
    }
    return pp_fail_at(error, PP_EINPUT, files->measured.file, 0, 0,
                      "the measured holes are the nominal pattern, but %s (%zu holes fit within "
                      "%.3f mm then); %s",
                      words, p.count, best.rms, remedy);
}

/* ---- the exit view ---- */

typedef struct view_fit {
    size_t count, unmatched;
    double rms;
} view_fit;

/* Where a hole is known to be: its entry bore, aligned, or else the nominal place. */
static pp_nominal_point known_place(const pp_exit_view_request *l, uint32_t hole)
{
    uint32_t bore = l->gathered->bore_of[PP_ENTRY][hole];
    if (bore == PP_NONE) return pp_nominal_at(&l->files->nominal, hole);
    pp_plate_point at = pp_pose_apply(*l->pose, l->gathered->centre[bore]);
    return (pp_nominal_point){at.x, at.y}; /* for the exit that is where it should be */
}

/* Signs beside those of the job's own view. */
static view_fit look(const pp_exit_view_request *l, double sign_x, double sign_y)
{
    const pp_readings *r = &l->files->measured;
    view_fit v = {0};
    double radius = l->pitch / 2;
    double sum = 0;
    for (size_t i = 0; i < r->count; i++) {
        if (r->face[i] != PP_EXIT) continue;
        bool named = r->name && r->name[i][0];
        double distance;
        pp_measured_point seen =
            pp_view_point(l->view, PP_EXIT, r->x[i] * sign_x, r->y[i] * sign_y);
        pp_plate_point at = pp_pose_apply(*l->pose, seen);
        uint32_t hole =
            named ? l->key[i] : pp_grid_nearest(l->nominal_grid, at.x, at.y, radius, &distance);
        if (named && hole >= l->files->nominal.count) continue;
        v.count++;
        if (hole == UINT32_MAX) {
            v.unmatched++;
            sum += radius * radius;
            continue;
        }
        pp_offset off = pp_offset_from(known_place(l, hole), at);
        sum += off.dx * off.dx + off.dy * off.dy;
    }
    v.rms = v.count ? sqrt(sum / (double)v.count) : NAN;
    return v;
}

/* The name of the view that those signs make of the job's own. */
static const char *view_name(pp_exit_view own, double sign_x, double sign_y)
{
    bool x = (own == PP_EXIT_TURNED_ABOUT_Y) != (sign_x < 0);
    bool y = (own == PP_EXIT_TURNED_ABOUT_X) != (sign_y < 0);
    return x && y ? NULL : x ? "turned-about-y" : y ? "turned-about-x" : "through";
}

pp_status pp_exit_view_check(const pp_exit_view_request *request, bool *open, pp_error *error)
{
    static const double SIGNS[][2] = {{-1, 1}, {1, -1}, {-1, -1}};
    static const double CLEARLY = 1.0 / 3, AS_WELL = 3, COINCIDENT = 1e-6;
    *open = false;
    if (!request->gathered->faces[PP_EXIT] || !pp_given(request->pitch) ||
        request->align != PP_EXIT_ALIGN_SAME)
        return PP_OK;
    view_fit own = look(request, 1, 1);
    if (own.count < VIEW_LEAST) return PP_OK;
    for (size_t i = 0; i < sizeof SIGNS / sizeof *SIGNS; i++) {
        const char *name = view_name(request->stated, SIGNS[i][0], SIGNS[i][1]);
        view_fit other = look(request, SIGNS[i][0], SIGNS[i][1]);
        if (!name) continue;
        if (other.rms < CLEARLY * own.rms && other.unmatched <= own.unmatched &&
            own.rms > COINCIDENT)
            return pp_fail_at(error, PP_EINPUT, request->files->measured.file, 0, 0,
                              "the exit readings fit much better as seen with exit_view = %s (they "
                              "then lie %.3f mm from the entry face, root mean square, against "
                              "%.3f mm as the job says); was the plate turned over? write [holes] "
                              "exit_view = %s, or read the exit face again",
                              name, other.rms, own.rms, name);
        *open = *open || (other.unmatched == 0 && other.rms < AS_WELL * own.rms);
    }
    return PP_OK;
}
