#include "serve/watch.h"

#include <sys/socket.h>

void pp_watch_begin(pp_watch *watch)
{
    pthread_mutex_init(&watch->lock, NULL);
    for (int i = 0; i < PP_CONNECTIONS_MAX; i++) watch->connection[i] = (pp_watched){-1, 0};
}

pp_watched *pp_watch_add(pp_watch *watch, int socket, long now)
{
    pp_watched *free_place = NULL;
    pthread_mutex_lock(&watch->lock);
    for (int i = 0; i < PP_CONNECTIONS_MAX && !free_place; i++)
        if (watch->connection[i].socket < 0) free_place = &watch->connection[i];
    if (free_place) *free_place = (pp_watched){socket, now + PP_IDLE_SECONDS};
    pthread_mutex_unlock(&watch->lock);
    return free_place;
}

void pp_watch_remove(pp_watch *watch, pp_watched *connection)
{
    pthread_mutex_lock(&watch->lock);
    *connection = (pp_watched){-1, 0};
    pthread_mutex_unlock(&watch->lock);
}

void pp_watch_set(pp_watch *watch, pp_watched *connection, long deadline)
{
    pthread_mutex_lock(&watch->lock);
    connection->deadline = deadline;
    pthread_mutex_unlock(&watch->lock);
}

bool pp_watch_pace(pp_watch *watch, long now)
{
    pthread_mutex_lock(&watch->lock);
    if (watch->second != now) watch->second = now, watch->requests = 0;
    bool in_time = ++watch->requests <= PP_PACE_MAX;
    pthread_mutex_unlock(&watch->lock);
    return in_time;
}

void pp_watch_drop_late(pp_watch *watch, long now)
{
    pthread_mutex_lock(&watch->lock);
    for (int i = 0; i < PP_CONNECTIONS_MAX; i++) {
        pp_watched *connection = &watch->connection[i];
        if (connection->socket < 0 || connection->deadline == 0 || connection->deadline > now)
            continue;
        shutdown(connection->socket, SHUT_RDWR); /* under the lock: not yet closed and reused */
        connection->deadline = 0;
    }
    pthread_mutex_unlock(&watch->lock);
}
