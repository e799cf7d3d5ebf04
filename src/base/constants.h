/* Numbers of mathematics that more than one place needs. */
#ifndef PP_BASE_CONSTANTS_H
#define PP_BASE_CONSTANTS_H

#define PP_PI 3.14159265358979323846
#define PP_TURN (2 * PP_PI)      /* radians of a full turn */
#define PP_DEGREES (180 / PP_PI) /* of one radian */

#endif
